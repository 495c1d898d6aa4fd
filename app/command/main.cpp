// The program `railside`.
#include "app/command/command.h"

#include <iostream>
#include <string_view>
#include <vector>

int main(int argc, char** argv) {
    const std::vector<std::string_view> args(argv + (argc > 0 ? 1 : 0), argv + argc);
    return railside::run_command(args, std::cout, std::cerr);
}
