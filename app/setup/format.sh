#!/bin/sh
# Is every C++ file of ours formatted as .clang-format says? Exit status: 0 yes, 1 no, 77 cannot tell.
set -eu
cd "$(dirname "$0")/../.."

# Another version formats some things otherwise, so only the one that the files are kept with is asked.
wanted=14
formatter=
for name in clang-format-$wanted clang-format; do
    if [ -z "$formatter" ] && $name --version 2>/dev/null | grep -q "version $wanted\."; then
        formatter=$name
    fi
done
if [ -z "$formatter" ]; then
    echo "format: needs clang-format $wanted; here is: $(clang-format --version 2>/dev/null || echo none)"
    exit 77
fi
find core app tests \( -name '*.h' -o -name '*.cpp' \) -print0 | xargs -0 -r "$formatter" --dry-run -Werror
