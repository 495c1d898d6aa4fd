"""Whether two job files (.railjob) hold the same: every entry and every file, byte for byte.
same_job.py ONE OTHER    Says how many of each; exit status 1 and the first difference when they differ."""
import sqlite3
import sys


def rows(path):
    with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as database:
        tables = sorted(name for (name,) in database.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"))
        return {table: sorted(database.execute(f'SELECT * FROM "{table}"').fetchall(), key=repr) for table in tables}


one, other = rows(sys.argv[1]), rows(sys.argv[2])
if one.keys() != other.keys():
    sys.exit(f"tables: {sorted(one)} and {sorted(other)}")
for table, mine in one.items():
    theirs = other[table]
    if mine != theirs:
        only = [row for row in mine if row not in theirs] + [row for row in theirs if row not in mine]
        sys.exit(f"{table}: {len(mine)} and {len(theirs)} rows; the first that differs: {repr(only[:1])[:300]}")
print(", ".join(f"{table} {len(mine)}" for table, mine in sorted(one.items())))
