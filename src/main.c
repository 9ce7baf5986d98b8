/* The program: everything that it does is in commands/. */
#include "commands/command.h"

int main(int argc, char **argv)
{
    return commands_main(argc, argv);
}
