/* In a build that counts lines, _exit() and raise() are these functions: who leaves by them keeps the counts. */
#include <signal.h>
#include <sys/syscall.h>
#include <unistd.h>

void __gcov_dump(void);

_Noreturn void coverage_exit(int status)
{
    __gcov_dump();
    for (;;)
        syscall(SYS_exit_group, status);
}

int coverage_raise(int number)
{
    __gcov_dump();
    return kill(getpid(), number);
}
