/* In a build that counts lines, _exit() is this function: a child that leaves by it keeps its counts. */
#include <sys/syscall.h>
#include <unistd.h>

void __gcov_dump(void);

_Noreturn void coverage_exit(int status)
{
    __gcov_dump();
    for (;;)
        syscall(SYS_exit_group, status);
}
