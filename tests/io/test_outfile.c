/* Output files appear whole or not at all, also when the disk is full. */
#include "check.h"
#include "scratch.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include "io/files/outfile.h"

/* How many files there are, hidden ones too. */
static int files_there(void)
{
    int n = 0;
    DIR *dir = opendir(scratch_folder());
    assert_non_null(dir);
    for (struct dirent *e; (e = readdir(dir));) n += strcmp(e->d_name, ".") && strcmp(e->d_name, "..");
    closedir(dir);
    return n;
}

static void assert_holds(const char *path, const char *text)
{
    char *got = scratch_read(path, NULL);
    assert_non_null(got);
    assert_string_equal(got, text);
    free(got);
}

static void a_file_appears_at_the_commit_and_not_before(void **state)
{
    (void)state;
    struct outfile *o;
    assert_int_equal(outfile_open(&o, scratch_at("a.csv"), false, NULL), TC_OK);
    fputs("whole", outfile_stream(o));
    fflush(outfile_stream(o));
    assert_int_equal(access(scratch_at("a.csv"), F_OK), -1);
    assert_int_equal(outfile_commit(o, NULL), TC_OK);
    assert_holds(scratch_at("a.csv"), "whole");
    assert_int_equal(files_there(), 1);
}

static void what_is_abandoned_leaves_nothing(void **state)
{
    (void)state;
    struct outfile *o;
    assert_int_equal(outfile_open(&o, scratch_at("a.csv"), false, NULL), TC_OK);
    fputs("half", outfile_stream(o));
    outfile_abandon(o);
    outfile_abandon(NULL);
    assert_int_equal(files_there(), 0);
}

static void an_existing_file_is_refused_by_name(void **state)
{
    (void)state;
    struct outfile *o;
    struct tc_problem why = { "" };
    scratch_put("a.csv", "old");
    assert_int_equal(outfile_open(&o, scratch_at("a.csv"), false, &why), TC_ERR_EXISTS);
    assert_non_null(strstr(why.text, "a.csv: exists already; use --force"));
    assert_null(o);
    assert_holds(scratch_at("a.csv"), "old");
    assert_int_equal(files_there(), 1);
}

static void a_file_that_appears_meanwhile_is_refused_too(void **state)
{
    (void)state;
    struct outfile *o;
    assert_int_equal(outfile_open(&o, scratch_at("a.csv"), false, NULL), TC_OK);
    fputs("mine", outfile_stream(o));
    scratch_put("a.csv", "theirs");
    assert_int_equal(outfile_commit(o, NULL), TC_ERR_EXISTS);
    assert_holds(scratch_at("a.csv"), "theirs");
    assert_int_equal(files_there(), 1);
}

static void force_replaces_and_keeps_the_old_until_then(void **state)
{
    (void)state;
    struct outfile *o;
    scratch_put("a.csv", "old");
    assert_int_equal(outfile_open(&o, scratch_at("a.csv"), true, NULL), TC_OK);
    fputs("new", outfile_stream(o));
    assert_holds(scratch_at("a.csv"), "old");
    assert_int_equal(outfile_commit(o, NULL), TC_OK);
    assert_holds(scratch_at("a.csv"), "new");
    assert_int_equal(files_there(), 1);
}

static void several_files_can_be_under_way_at_once(void **state)
{
    (void)state;
    struct outfile *o[4];
    char name[16];
    for (int i = 0; i < 4; i++) {
        snprintf(name, sizeof name, "%d.csv", i);
        assert_int_equal(outfile_open(&o[i], scratch_at(name), false, NULL), TC_OK);
        fprintf(outfile_stream(o[i]), "%d", i);
    }
    for (int i = 3; i >= 0; i--) assert_int_equal(outfile_commit(o[i], NULL), TC_OK);
    assert_holds(scratch_at("2.csv"), "2");
    assert_int_equal(files_there(), 4);
}

static void any_name_that_the_system_allows_will_do(void **state)
{
    (void)state;
    static const char *const names[] = {
        "two words.csv", "-rf", "line\nbreak.csv", "\xFF\xFE.csv", "=1+1.csv", "\xD0\xB3\xD1\x80\xD0\xBE\xD0\xBC.csv",
        "*?[a].csv",
    };
    for (size_t i = 0; i < COUNT(names); i++) {
        struct outfile *o;
        struct tc_problem why = { "" };
        assert_int_equal(outfile_open(&o, scratch_at(names[i]), false, NULL), TC_OK);
        assert_int_equal(outfile_commit(o, NULL), TC_OK);
        assert_int_equal(outfile_open(&o, scratch_at(names[i]), false, &why), TC_ERR_EXISTS);
        for (const char *c = why.text; *c; c++) assert_true((unsigned char)*c >= 0x20); /* a quiet terminal */
    }
    assert_int_equal(files_there(), COUNT(names));
}

static void places_that_cannot_be_written_are_named(void **state)
{
    (void)state;
    static char deep[4200];
    memset(deep, 'x', sizeof deep - 1);
    for (size_t i = 100; i < sizeof deep - 1; i += 100) deep[i] = '/';
    static char wide[300];
    memset(wide, 'y', sizeof wide - 1);
    mkdir(scratch_at("folder"), 0777);
    scratch_put("file", "");
    assert_int_equal(symlink("loop", scratch_at("loop")), 0);
    const struct { const char *name, *says; } rows[] = {
        { "nowhere/a.csv", "No such file" }, { "folder", "Is a directory" }, { "file/a.csv", "Not a directory" },
        { "loop/a.csv", "symbolic links" }, { deep, "File name too long" }, { wide, "File name too long" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct outfile *o = NULL;
        struct tc_problem why = { "" };
        enum tc_status status = outfile_open(&o, scratch_at(rows[i].name), false, &why);
        if (status == TC_OK) status = outfile_commit(o, &why);
        assert_int_equal(status, TC_ERR_WRITE);
        if (!strstr(why.text, rows[i].says)) fail_msg("'%s' lacks '%s'", why.text, rows[i].says);
    }
    assert_int_equal(files_there(), 3);
}

static void an_unwritable_folder_is_named(void **state)
{
    (void)state;
    struct outfile *o;
    struct tc_problem why = { "" };
    chmod(scratch_folder(), 0555);
    bool root = geteuid() == 0 && !seteuid(65534); /* root may write everywhere */
    enum tc_status status = outfile_open(&o, scratch_at("a.csv"), false, &why);
    if (root) assert_int_equal(seteuid(0), 0);
    chmod(scratch_folder(), 0700);
    assert_int_equal(status, TC_ERR_WRITE);
    assert_non_null(strstr(why.text, "Permission denied"));
}

/* The kernel's file size limit stands in for a disk that fills up after so
 * many bytes: every write beyond it fails (setrlimit(2), EFBIG). */
static void a_disk_that_fills_up_at_any_byte_leaves_nothing(void **state)
{
    (void)state;
    signal(SIGXFSZ, SIG_IGN);
    struct rlimit before, limit;
    getrlimit(RLIMIT_FSIZE, &before);
    enum { SIZE = 200000 };
    static const long rooms[] = { 0, 1, 4095, 4096, 65535, 65536, 65537, 131072, SIZE - 1, SIZE };
    for (size_t i = 0; i < COUNT(rooms); i++) {
        struct outfile *o;
        struct tc_problem why = { "" };
        scratch_put("a.csv", "old");
        limit = before;
        limit.rlim_cur = (rlim_t)rooms[i];
        assert_int_equal(outfile_open(&o, scratch_at("a.csv"), true, NULL), TC_OK);
        setrlimit(RLIMIT_FSIZE, &limit);
        for (int n = 0; n < SIZE; n++) putc('x', outfile_stream(o));
        enum tc_status status = outfile_commit(o, &why);
        setrlimit(RLIMIT_FSIZE, &before);
        if (rooms[i] < SIZE) {
            assert_int_equal(status, TC_ERR_WRITE);
            assert_non_null(strstr(why.text, "a.csv: can't be written: "));
            assert_holds(scratch_at("a.csv"), "old");
        } else {
            assert_int_equal(status, TC_OK);
        }
        assert_int_equal(files_there(), 1);
    }
}

static void a_full_device_is_told_of(void **state)
{
    (void)state;
    struct outfile *o;
    struct tc_problem why = { "" };
    assert_int_equal(outfile_open(&o, "/dev/full", false, NULL), TC_OK);
    fputs("text", outfile_stream(o));
    assert_int_equal(outfile_commit(o, &why), TC_ERR_WRITE);
    assert_non_null(strstr(why.text, "/dev/full: can't be written: No space left on device"));
    assert_int_equal(outfile_open(&o, "/dev/null", false, NULL), TC_OK);
    fputs("text", outfile_stream(o));
    assert_int_equal(outfile_commit(o, NULL), TC_OK);
}

/* In a container every run may have the same process number as the dead one. */
static void what_a_dead_namesake_left_is_swept_up(void **state)
{
    (void)state;
    char name[64];
    struct outfile *alive;
    snprintf(name, sizeof name, ".thundercue-%ld-7.part", (long)getpid());
    scratch_put(name, "half");
    scratch_put(".thundercue-1-0.part", "half");
    assert_int_equal(outfile_open(&alive, scratch_at("a.csv"), false, NULL), TC_OK);
    assert_int_equal(outfile_sweep(scratch_folder()), 2);
    assert_int_equal(outfile_seal(alive, NULL), TC_OK);
    assert_int_equal(outfile_sweep(scratch_folder()), 0); /* sealed, and not named yet: still alive */
    assert_int_equal(outfile_commit(alive, NULL), TC_OK);
    assert_int_equal(files_there(), 1);
}

static void a_pipe_that_nobody_reads_is_refused(void **state)
{
    (void)state;
    struct outfile *o;
    struct tc_problem why = { "" };
    assert_int_equal(mkfifo(scratch_at("pipe"), 0666), 0);
    assert_int_equal(outfile_open(&o, scratch_at("pipe"), true, &why), TC_ERR_WRITE);
    assert_non_null(strstr(why.text, "pipe: can't be written: nobody reads from this pipe"));
    int reader = open(scratch_at("pipe"), O_RDONLY | O_NONBLOCK);
    assert_int_equal(outfile_open(&o, scratch_at("pipe"), true, NULL), TC_OK);
    fputs("text", outfile_stream(o));
    assert_int_equal(outfile_commit(o, NULL), TC_OK);
    char got[8] = "";
    assert_int_equal(read(reader, got, sizeof got), 4);
    close(reader);
}

static void what_killed_runs_left_is_swept_up_and_nothing_else(void **state)
{
    (void)state;
    struct outfile *alive, *doomed;
    scratch_put(".thundercue-notes.part", "not ours");
    scratch_put(".thundercue-1x-2.part", "not ours");
    mkdir(scratch_at(".thundercue-999999999-0.part"), 0777); /* no process has that number, but it's a folder */
    assert_int_equal(outfile_open(&alive, scratch_at("a.csv"), false, NULL), TC_OK);
    pid_t child = fork();
    if (child == 0) { /* dies in the middle of two files */
        bool ok = outfile_open(&doomed, scratch_at("b.csv"), false, NULL) == TC_OK
                  && outfile_open(&doomed, scratch_at("c.csv"), false, NULL) == TC_OK;
        _exit(ok ? 0 : 1);
    }
    int status = -1;
    waitpid(child, &status, 0);
    assert_int_equal(status, 0);
    assert_int_equal(files_there(), 6);
    assert_int_equal(outfile_sweep(scratch_folder()), 2);
    assert_int_equal(outfile_sweep(scratch_folder()), 0);
    assert_int_equal(outfile_sweep(scratch_at("nowhere")), 0);
    assert_int_equal(outfile_commit(alive, NULL), TC_OK);
    assert_int_equal(files_there(), 4);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, scratch_set_up, scratch_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(a_file_appears_at_the_commit_and_not_before),
        TEST(what_is_abandoned_leaves_nothing),
        TEST(an_existing_file_is_refused_by_name),
        TEST(a_file_that_appears_meanwhile_is_refused_too),
        TEST(force_replaces_and_keeps_the_old_until_then),
        TEST(several_files_can_be_under_way_at_once),
        TEST(any_name_that_the_system_allows_will_do),
        TEST(places_that_cannot_be_written_are_named),
        TEST(an_unwritable_folder_is_named),
        TEST(a_disk_that_fills_up_at_any_byte_leaves_nothing),
        TEST(a_full_device_is_told_of),
        TEST(what_killed_runs_left_is_swept_up_and_nothing_else),
        TEST(what_a_dead_namesake_left_is_swept_up),
        TEST(a_pipe_that_nobody_reads_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
