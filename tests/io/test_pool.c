/* The worker pool: every item once, results on the calling thread, whatever the
 * number of workers. Meant to run under the thread sanitizer too. */
#include "check.h"

#include <pthread.h>
#include <stdatomic.h>
#include <time.h>

#include "io/process/pool.h"

enum { ITEMS = 200 };

struct seen {
    pthread_t caller;
    int worked[ITEMS];          /* each touched by one worker, read by the caller afterwards */
    int told[ITEMS];
    size_t told_count, ticks;
    atomic_int busy, busiest, begun;
    int order[ITEMS];           /* when each was begun */
    long nap_us;
    bool wrong_thread;
};

static void nap(long us)
{
    struct timespec t = { us / 1000000, us % 1000000 * 1000 };
    nanosleep(&t, NULL);
}

static void work(void *user, size_t item)
{
    struct seen *s = user;
    s->order[item] = atomic_fetch_add(&s->begun, 1);
    int busy = atomic_fetch_add(&s->busy, 1) + 1;
    for (int most = s->busiest; busy > most && !atomic_compare_exchange_weak(&s->busiest, &most, busy);) continue;
    if (s->nap_us) nap(s->nap_us * (long)(1 + item % 3));
    s->worked[item]++;
    atomic_fetch_sub(&s->busy, 1);
}

static void done(void *user, size_t item)
{
    struct seen *s = user;
    if (!pthread_equal(pthread_self(), s->caller)) s->wrong_thread = true;
    if (s->worked[item] != 1) s->wrong_thread = true;
    s->told[item]++;
    s->told_count++;
}

static void tick(void *user)
{
    struct seen *s = user;
    if (!pthread_equal(pthread_self(), s->caller)) s->wrong_thread = true;
    s->ticks++;
}

static void every_item_is_done_once_whatever_the_number_of_workers(void **state)
{
    (void)state;
    static const struct { size_t jobs, items; } rows[] = {
        { 1, 0 }, { 1, 1 }, { 1, ITEMS }, { 2, ITEMS }, { 8, ITEMS }, { 64, ITEMS }, { 1000, 3 }, { 0, 5 },
    };
    for (size_t r = 0; r < COUNT(rows); r++) {
        struct seen s = { .caller = pthread_self(), .nap_us = 20 };
        pool_run(rows[r].jobs, rows[r].items, &(struct pool_task){ &s, work, done, tick });
        assert_int_equal(s.told_count, rows[r].items);
        assert_false(s.wrong_thread);
        for (size_t i = 0; i < ITEMS; i++) {
            assert_int_equal(s.worked[i], i < rows[r].items);
            assert_int_equal(s.told[i], i < rows[r].items);
        }
    }
}

static void no_more_workers_than_asked_for_are_busy_at_once(void **state)
{
    (void)state;
    for (int jobs = 1; jobs <= 4; jobs++) {
        struct seen s = { .caller = pthread_self(), .nap_us = 500 };
        pool_run((size_t)jobs, 40, &(struct pool_task){ &s, work, NULL, NULL });
        assert_true(s.busiest <= jobs);
        if (jobs > 1) assert_true(s.busiest > 1); /* they do work side by side */
    }
}

static void one_worker_takes_items_in_their_order(void **state)
{
    (void)state;
    struct seen s = { .caller = pthread_self() };
    pool_run(1, ITEMS, &(struct pool_task){ &s, work, done, NULL });
    for (int i = 0; i < ITEMS; i++) assert_int_equal(s.order[i], i);
}

static void long_work_is_interrupted_by_ticks(void **state)
{
    (void)state;
    struct seen s = { .caller = pthread_self(), .nap_us = 700000 };
    pool_run(1, 1, &(struct pool_task){ &s, work, done, tick });
    assert_in_range(s.ticks, 1, 4);
}

static void there_is_at_least_one_processor(void **state)
{
    (void)state;
    assert_in_range(pool_processors(), 1, POOL_JOBS_MOST);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_item_is_done_once_whatever_the_number_of_workers),
        cmocka_unit_test(no_more_workers_than_asked_for_are_busy_at_once),
        cmocka_unit_test(one_worker_takes_items_in_their_order),
        cmocka_unit_test(long_work_is_interrupted_by_ticks),
        cmocka_unit_test(there_is_at_least_one_processor),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
