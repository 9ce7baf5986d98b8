/* What the suites share: one table of tests a program, run by CUnit. */
#ifndef UNIT_H
#define UNIT_H
#include <CUnit/Basic.h>
#include <stddef.h>

struct unit_test {
    const char *name;
    CU_TestFunc run;
};

/** Runs the tests as one suite. @return the program's exit status: 0 when all passed. */
static inline int unit_run(const char *suite_name, const struct unit_test *tests, size_t n_tests)
{
    if (!n_tests || CU_initialize_registry() != CUE_SUCCESS)
        return 1;
    CU_pSuite suite = CU_add_suite(suite_name, NULL, NULL);
    for (size_t i = 0; i < n_tests; i++)
        if (!suite || !CU_add_test(suite, tests[i].name, tests[i].run))
            return 1;
    CU_basic_set_mode(CU_BRM_NORMAL);
    CU_ErrorCode error = CU_basic_run_tests();
    unsigned n_failed = CU_get_number_of_failures() + CU_get_number_of_tests_failed();
    CU_cleanup_registry();
    return error != CUE_SUCCESS || n_failed;
}

#define UNIT_MAIN(suite_name, tests)                                                                                   \
    int main(void)                                                                                                     \
    {                                                                                                                  \
        return unit_run(suite_name, tests, sizeof(tests) / sizeof *(tests));                                           \
    }
#endif
