/* Tasks in a process of their own, and in this one where there is none to be had. */
#include "check.h"

#include <pthread.h>
#include <sys/resource.h>
#include <unistd.h>

#include "io/process/child.h"

struct errand {
    pid_t *seen;
    atomic_int begun, go_on;
};

static void tell_pid(void *user, void *answer)
{
    (void)user;
    *(pid_t *)answer = getpid();
}

static void wait_here(void *user, void *answer)
{
    struct errand *e = user;
    e->begun = 1;
    while (!e->go_on) usleep(1000);
    *(pid_t *)answer = getpid();
}

static atomic_int running, second_begun, second_done;

static void *run_waiting(void *user)
{
    pid_t pid = 0;
    int how;
    child_run(wait_here, user, &pid, sizeof pid, -1, &running, &how);
    *((struct errand *)user)->seen = pid;
    return NULL;
}

static void *run_second(void *user)
{
    int how;
    second_begun = 1; /* and forks next */
    child_run(tell_pid, NULL, user, sizeof(pid_t), -1, &running, &how);
    second_done = 1;
    return NULL;
}

static void a_task_has_a_process_of_its_own(void **state)
{
    (void)state;
    pid_t pid = 0;
    int how;
    assert_int_equal(child_run(tell_pid, NULL, &pid, sizeof pid, -1, &running, &how), CHILD_ANSWERED);
    assert_true(pid != 0 && pid != getpid());
}

/* Without a pipe to be had the task runs in this process, and while it does,
 * holding what locks it likes, nobody forks. */
static void nobody_forks_while_a_task_runs_here(void **state)
{
    (void)state;
    pid_t first = 0, second = 0;
    struct errand e = { .seen = &first };
    pthread_t waiting, forking;
    struct rlimit before, none;
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
    none = before;
    none.rlim_cur = 0;
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &none), 0);
    assert_int_equal(pthread_create(&waiting, NULL, run_waiting, &e), 0);
    while (!e.begun) usleep(1000);
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
    assert_int_equal(pthread_create(&forking, NULL, run_second, &second), 0);
    while (!second_begun) usleep(1000);
    usleep(200000);
    int too_early = second_done;
    e.go_on = 1;
    pthread_join(waiting, NULL);
    pthread_join(forking, NULL);
    assert_int_equal(too_early, 0);
    assert_int_equal(first, getpid());
    assert_true(second != 0 && second != getpid());
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_task_has_a_process_of_its_own),
        cmocka_unit_test(nobody_forks_while_a_task_runs_here),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
