/* A folder in one go: same bytes for any number of workers, no good clip lost
 * because of a bad one, and a stopped run goes on where it was. */
#include "cases.h"
#include "check.h"
#include "scratch.h"
#include "wav.h"

#include <fcntl.h>
#include <signal.h>
#include <sndfile.h>
#include <sys/file.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>

#include "app/batch/batch.h"
#include "io/files/digest.h"
#include "io/process/stop.h"

static struct tc_rig rig;

static int set_up(void **state)
{
    (void)state;
    scratch_set_up(NULL);
    return tc_rig_builtin(&rig) == TC_OK ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    scratch_tear_down(NULL);
    tc_rig_clear(&rig);
    return 0;
}

static void clip(const char *name, double seconds, uint32_t seed)
{
    struct bytes b = { 0 };
    wav_storm(&b, 1, 8000, seconds, seed);
    bytes_save(&b, scratch_at(name));
    free(b.data);
}

/* All names and bytes below a folder, hidden files too. */
static uint64_t folder_digest(const char *path, uint64_t digest)
{
    struct dirent **entries;
    int n = scandir(path, &entries, NULL, alphasort);
    assert_true(n >= 2);
    for (int i = 0; i < n; i++) {
        const char *name = entries[i]->d_name;
        char below[2048];
        struct stat st;
        snprintf(below, sizeof below, "%s/%s", path, name);
        if (strcmp(name, ".") && strcmp(name, "..") && !stat(below, &st)) {
            digest = digest_text(digest, name);
            if (S_ISDIR(st.st_mode)) digest = folder_digest(below, digest);
            else assert_true(digest_file(&digest, below, NULL));
        }
        free(entries[i]);
    }
    free(entries);
    return digest;
}

static int count_files(const char *path, const char *ending)
{
    struct dirent **entries;
    int n = scandir(path, &entries, NULL, NULL), found = 0;
    for (int i = 0; i < n; i++) {
        size_t a = strlen(entries[i]->d_name), b = strlen(ending);
        found += a >= b && !strcmp(entries[i]->d_name + a - b, ending);
        free(entries[i]);
    }
    if (n >= 0) free(entries);
    return found;
}

static char told[8192];

static void hear(void *user, const char *line)
{
    (void)user;
    strncat(told, line, sizeof told - strlen(told) - 2);
    strcat(told, "\n");
}

struct options {
    size_t jobs;
    bool recursive, force, preview, discard_edits;
    double sensitivity;
};

static enum tc_status run(const char *out, struct options o, struct batch_sum *sum)
{
    struct batch_sum none;
    struct tc_problem why = { "" };
    struct tc_settings s = tc_settings_default();
    if (o.sensitivity > 0) s.sensitivity = o.sensitivity;
    struct batch b = { .folder = scratch_at("clips"), .out_dir = scratch_at(out), .jobs = o.jobs ? o.jobs : 2,
                       .recursive = o.recursive, .force = o.force, .preview = o.preview,
                       .discard_edits = o.discard_edits };
    told[0] = 0;
    enum tc_status status = batch_run(&b, &rig, &s, sum ? sum : &none, hear, NULL, &why);
    if (status != TC_OK) hear(NULL, why.text);
    return status;
}

/* The row of a clip as it stands, without its line end. */
static const char *row_of(const char *out, const char *file)
{
    static char row[1024];
    char name[300];
    snprintf(name, sizeof name, "%s/summary.csv", out);
    char *text = scratch_read(scratch_at(name), NULL), *line = text;
    assert_non_null(text);
    size_t n = strlen(file);
    row[0] = 0;
    for (; line && *line; line = strstr(line, "\r\n") + 2)
        if (!strncmp(line, file, n) && line[n] == ',')
            snprintf(row, sizeof row, "%.*s", (int)strcspn(line, "\r"), line);
    free(text);
    return row;
}

static void assert_row(const char *out, const char *file, const char *begins)
{
    const char *row = row_of(out, file);
    if (strncmp(row + strlen(file) + 1, begins, strlen(begins)))
        fail_msg("row of %s is '%s', expected '%s...'", file, row, begins);
}

static void make_clips(void)
{
    mkdir(scratch_at("clips"), 0777);
    clip("clips/far.wav", 2.5, 1);
    clip("clips/near.wav", 4.5, 2);
    clip("clips/squall.wav", 3.2, 3);
}

/* ---- Decoders that crash (the linker's --wrap) ---- */

static const struct { double seconds; int signal; } deadly[] = { { 1.125, SIGSEGV }, { 1.375, SIGABRT }, { 1.625, SIGKILL } };

sf_count_t __real_sf_readf_float(SNDFILE *f, float *to, sf_count_t n);
sf_count_t __wrap_sf_readf_float(SNDFILE *f, float *to, sf_count_t n);
sf_count_t __wrap_sf_readf_float(SNDFILE *f, float *to, sf_count_t n)
{
    SF_INFO info = { 0 };
    sf_command(f, SFC_GET_CURRENT_SF_INFO, &info, sizeof info);
    for (size_t i = 0; i < COUNT(deadly); i++)
        if (info.frames == (sf_count_t)(deadly[i].seconds * 8000)) {
            signal(deadly[i].signal, SIG_DFL);
            raise(deadly[i].signal);
        }
    return __real_sf_readf_float(f, to, n);
}

static void a_decoder_that_crashes_costs_its_clip_alone(void **state)
{
    (void)state;
    make_clips();
    for (size_t i = 0; i < COUNT(deadly); i++) {
        char name[32];
        snprintf(name, sizeof name, "clips/deadly-%zu.wav", i);
        clip(name, deadly[i].seconds, 7);
    }
    for (size_t jobs = 1; jobs <= 4; jobs++) {
        struct batch_sum sum;
        char out[16];
        snprintf(out, sizeof out, "out%zu", jobs);
        assert_int_equal(run(out, (struct options){ .jobs = jobs }, &sum), TC_OK);
        assert_int_equal(sum.done, 3);
        assert_int_equal(sum.failed, 3);
        assert_non_null(strstr(row_of(out, "deadly-0.wav"), "crashed (Segmentation fault)"));
        assert_non_null(strstr(row_of(out, "deadly-1.wav"), "crashed (Aborted)"));
        assert_non_null(strstr(row_of(out, "deadly-2.wav"), "perhaps for want of memory"));
        run(out, (struct options){ 0 }, &sum);
        assert_int_equal(sum.kept, 3);
        assert_int_equal(count_files(scratch_at(out), ".part"), 0);
    }
}

/* Fewer workers where there are few files to be opened at once. */
static void a_low_limit_on_open_files_means_fewer_workers(void **state)
{
    (void)state;
    mkdir(scratch_at("clips"), 0777);
    for (int i = 0; i < 80; i++) {
        char name[32];
        snprintf(name, sizeof name, "clips/%02d.wav", i);
        clip(name, 1, (uint32_t)i);
    }
    struct rlimit before, limit;
    getrlimit(RLIMIT_NOFILE, &before);
    static const rlim_t limits[] = { 64, 32, 20 };
    for (size_t i = 0; i < COUNT(limits); i++) {
        struct batch_sum sum;
        limit = before;
        limit.rlim_cur = limits[i];
        setrlimit(RLIMIT_NOFILE, &limit);
        enum tc_status status = run("out", (struct options){ .jobs = 64, .force = true }, &sum);
        setrlimit(RLIMIT_NOFILE, &before);
        assert_int_equal(status, TC_OK);
        assert_int_equal(sum.done, 80);
    }
}

static void any_number_of_workers_writes_the_same_bytes(void **state)
{
    (void)state;
    make_clips();
    mkdir(scratch_at("clips/night"), 0777);
    clip("clips/night/near.wav", 2.5, 4);
    clip("clips/night/roll.wav", 1.5, 5);
    scratch_put("clips/broken.wav", "RIFF");
    static const size_t jobs[] = { 1, 2, 8 };
    uint64_t digests[COUNT(jobs)];
    for (size_t i = 0; i < COUNT(jobs); i++) {
        char out[16];
        struct batch_sum sum;
        snprintf(out, sizeof out, "out%zu", jobs[i]);
        assert_int_equal(run(out, (struct options){ .jobs = jobs[i], .recursive = true, .preview = true }, &sum),
                         TC_OK);
        assert_int_equal(sum.done, 5);
        assert_int_equal(sum.failed, 1);
        digests[i] = folder_digest(scratch_at(out), 0);
    }
    assert_true(digests[0] == digests[1] && digests[1] == digests[2]);
    assert_int_equal(count_files(scratch_at("out8/night"), ".events.csv"), 2);
    assert_int_equal(count_files(scratch_at("out8/night"), ".preview.html"), 2);
}

static void only_the_folder_itself_without_recursive(void **state)
{
    (void)state;
    make_clips();
    mkdir(scratch_at("clips/night"), 0777);
    clip("clips/night/near.wav", 1, 4);
    struct batch_sum sum;
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.done, 3);
    assert_int_equal(access(scratch_at("out/night"), F_OK), -1);
}

static void a_bad_clip_is_a_row_and_stops_nobody(void **state)
{
    (void)state;
    make_clips();
    scratch_put("clips/0-empty.wav", "");
    scratch_put("clips/1-text.wav", "kind,start_s\r\n");
    scratch_put("clips/2-head.flac", "fLaC");
    scratch_put("clips/notes.txt", "buy gaffer tape");
    scratch_put("clips/3-vorbis.ogg", "OggS, and then nothing that makes sense");
    scratch_put("clips/4-film.m4a", "....ftypM4A ");
    scratch_put("clips/5-stream.aac", "words");
    scratch_put("clips/6-media.wma", "words");
    scratch_put("clips/7-no-ending", "OggS, and then nothing that makes sense");
    scratch_put("clips/far.labels.csv", "kind,start_s\r\n");
    struct batch_sum sum;
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.done, 3);
    assert_int_equal(sum.failed, 8);
    assert_int_equal(sum.passed_over, 2);
    assert_row("out", "0-empty.wav", "failed,");
    assert_non_null(strstr(row_of("out", "0-empty.wav"), "0-empty.wav: is empty"));
    assert_row("out", "1-text.wav", "failed,");
    assert_row("out", "2-head.flac", "failed,");
    static const char *const unread[] = { "3-vorbis.ogg", "4-film.m4a", "5-stream.aac", "6-media.wma", "7-no-ending" };
    for (size_t i = 0; i < COUNT(unread); i++) assert_row("out", unread[i], "failed,"); /* none vanishes */
    assert_row("out", "near.wav", "done,,4.500,");
    assert_string_equal(row_of("out", "notes.txt"), "");
    assert_non_null(strstr(told, "0-empty.wav: is empty\n"));
    assert_int_equal(count_files(scratch_at("out"), ".frames.csv"), 3);
    assert_int_equal(count_files(scratch_at("out"), ".part"), 0);
}

static void what_is_no_file_is_skipped_with_its_reason(void **state)
{
    (void)state;
    make_clips();
    mkdir(scratch_at("elsewhere"), 0777);
    assert_int_equal(mkfifo(scratch_at("clips/pipe.wav"), 0666), 0);
    assert_int_equal(symlink("/dev/zero", scratch_at("clips/zero.wav")), 0);
    assert_int_equal(symlink("loop.wav", scratch_at("clips/loop.wav")), 0);
    assert_int_equal(symlink("nowhere", scratch_at("clips/dangling.wav")), 0);
    assert_int_equal(symlink("../clips", scratch_at("clips/again")), 0);
    assert_int_equal(symlink("far.wav", scratch_at("clips/link.wav")), 0);
    clip("clips/.hidden.wav", 1, 9);
    struct batch_sum sum;
    assert_int_equal(run("out", (struct options){ .recursive = true }, &sum), TC_OK);
    assert_int_equal(sum.done, 4); /* the link to a file is a clip */
    assert_int_equal(sum.skipped, 5);
    assert_int_equal(sum.failed, 0);
    assert_row("out", "pipe.wav", "skipped,is not a file,");
    assert_row("out", "zero.wav", "skipped,is not a file,");
    assert_row("out", "loop.wav", "skipped,Too many levels of symbolic links,");
    assert_row("out", "dangling.wav", "skipped,No such file or directory,");
    assert_row("out", "again", "skipped,\"is a link to a folder");
    assert_non_null(strstr(told, "skipped: "));
}

static void clips_of_one_stem_get_names_of_their_own(void **state)
{
    (void)state;
    mkdir(scratch_at("clips"), 0777);
    static const char *const names[] = { "clap.wav", "Clap.aiff", "clap.wav.wav", "roll.wav", "bare", "b.are.wav" };
    for (size_t i = 0; i < COUNT(names); i++) {
        char path[64];
        snprintf(path, sizeof path, "clips/%s", names[i]);
        clip(path, 1, (uint32_t)i);
    }
    struct batch_sum sum;
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.done, COUNT(names));
    static const char *const made[] = {
        "clap.wav.events.csv", "Clap.aiff.events.csv", "clap.wav.wav.events.csv", "roll.events.csv", "bare.events.csv",
        "b.are.events.csv",
    };
    for (size_t i = 0; i < COUNT(made); i++) {
        char path[64];
        snprintf(path, sizeof path, "out/%s", made[i]);
        if (access(scratch_at(path), F_OK)) fail_msg("there is no %s", made[i]);
    }
    assert_int_equal(count_files(scratch_at("out"), ".events.csv"), COUNT(names));
}

static void odd_names_do_no_harm_in_the_summary(void **state)
{
    (void)state;
    mkdir(scratch_at("clips"), 0777);
    clip("clips/=1+1.wav", 1, 1);
    clip("clips/-rf.wav", 1, 2);
    clip("clips/line\nbreak.wav", 1, 3);
    clip("clips/\xFF.wav", 1, 4);
    clip("clips/\xFE.wav", 1, 5);
    clip("clips/a, \"b\".wav", 1, 6);
    struct batch_sum sum;
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.done, 6);
    assert_row("out", "'=1+1.wav", "done,,1.000,");
    assert_non_null(strstr(row_of("out", "'=1+1.wav"), ",'=1+1,"));
    assert_row("out", "'-rf.wav", "done,");
    assert_row("out", "line?break.wav", "done,");
    assert_row("out", "\"a, \"\"b\"\".wav\"", "done,");
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.kept, 6); /* each is recognised, also the two that look alike */
}

static void what_is_done_is_not_done_again(void **state)
{
    (void)state;
    make_clips();
    scratch_put("clips/broken.wav", "RIFF");
    struct batch_sum sum;
    assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_OK);
    uint64_t first = folder_digest(scratch_at("out"), 0);
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.done, 0);
    assert_int_equal(sum.kept, 3);
    assert_int_equal(sum.failed, 1);
    assert_true(folder_digest(scratch_at("out"), 0) == first);
    assert_int_equal(run("out", (struct options){ .force = true }, &sum), TC_OK);
    assert_int_equal(sum.done, 3);
    assert_true(folder_digest(scratch_at("out"), 0) == first);
}

static void what_has_changed_is_refused_by_name_without_force(void **state)
{
    (void)state;
    make_clips();
    struct batch_sum sum;
    assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_OK);
    uint64_t first = folder_digest(scratch_at("out"), 0);

    assert_int_equal(run("out", (struct options){ .sensitivity = 60 }, &sum), TC_OK); /* other settings */
    assert_int_equal(sum.refused, 3);
    assert_row("out", "near.wav", "refused,");
    assert_non_null(strstr(told, "near.frames.csv: exists already, and the settings have changed since; use --force"));
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK); /* back to those of the files */
    assert_int_equal(sum.kept, 3);
    assert_true(folder_digest(scratch_at("out"), 0) == first);

    clip("clips/near.wav", 4.5, 77); /* other sound */
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.kept, 2);
    assert_int_equal(sum.refused, 1);
    assert_non_null(strstr(told, "near.frames.csv: exists already, and the sound has changed since"));
    assert_int_equal(run("out", (struct options){ .force = true }, &sum), TC_OK);
    assert_int_equal(sum.done, 3);

    assert_int_equal(remove(scratch_at("out/far.frames.csv")), 0); /* a file that is missing */
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.kept, 2);
    assert_int_equal(sum.done, 1); /* the others of its files are as they were written */
}

/* ---- Edits ---- */

static const char edit[] = "kind,start_s\r\ncrack,0.700\r\n";

static void assert_edit_stands(const char *path)
{
    char *text = scratch_read(scratch_at(path), NULL);
    assert_non_null(text);
    assert_string_equal(text, edit);
    free(text);
}

static void edited_events_are_cued_from_and_stay(void **state)
{
    (void)state;
    make_clips();
    struct batch_sum sum;
    assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_OK);
    scratch_put("out/near.events.csv", edit);
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.kept, 2);
    assert_int_equal(sum.done, 1);
    assert_row("out", "near.wav", "done,cued from the edited events file beside the timelines,4.500,1,0,");
    assert_edit_stands("out/near.events.csv");
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.kept, 3); /* done: from the edit */
    assert_int_equal(run("out", (struct options){ .force = true }, &sum), TC_OK);
    assert_int_equal(sum.done, 3);
    assert_edit_stands("out/near.events.csv"); /* --force is not for edits */
    assert_row("out", "near.wav", "done,cued from the edited");
    assert_int_equal(run("out", (struct options){ .discard_edits = true }, &sum), TC_OK);
    assert_int_equal(sum.done, 3);
    assert_row("out", "near.wav", "done,,4.500,");
}

static void other_edits_are_not_overwritten_by_force(void **state)
{
    (void)state;
    make_clips();
    struct batch_sum sum;
    assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_OK);
    scratch_put("out/near.frames.csv", edit);
    assert_int_equal(run("out", (struct options){ .force = true }, &sum), TC_OK);
    assert_int_equal(sum.done, 2);
    assert_int_equal(sum.refused, 1);
    assert_non_null(strstr(told,
                           "near.frames.csv: was edited since thundercue wrote it; --discard-edits overwrites it"));
    assert_edit_stands("out/near.frames.csv");
    assert_int_equal(run("out", (struct options){ .discard_edits = true }, &sum), TC_OK);
    assert_int_equal(sum.done, 3);
}

/* An edit made before, while or between runs that are killed or stopped at any
 * moment is never lost, nor where the folder moves or its ledger is lost. */
static void an_edit_outlives_runs_that_are_killed(void **state)
{
    (void)state;
    make_clips();
    int rounds = cases(60, 6);
    for (int i = 0; i < rounds; i++) {
        struct batch_sum sum;
        scratch_remove(scratch_at("out"));
        scratch_remove(scratch_at("moved"));
        if (i % 3) assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_OK);
        mkdir(scratch_at("out"), 0777);
        if (i % 3 == 1) assert_int_equal(remove(scratch_at("out/summary.csv")), 0);
        scratch_put("out/near.events.csv", edit);
        for (int again = 0; again < 2; again++) {
            pid_t child = fork();
            if (child == 0) {
                stop_watch();
                run("out", (struct options){ .jobs = 1 + (size_t)i % 3, .force = i % 2 }, NULL);
                _exit(0);
            }
            nanosleep(&(struct timespec){ 0, 1500000L * (i % 20) }, NULL);
            kill(child, again ? SIGKILL : SIGINT);
            waitpid(child, NULL, 0);
            assert_edit_stands("out/near.events.csv");
        }
        if (i % 5 == 4) remove(scratch_at("out/.thundercue"));
        assert_int_equal(rename(scratch_at("out"), scratch_at("moved")), 0);
        assert_int_equal(run("moved", (struct options){ 0 }, &sum), TC_OK);
        assert_edit_stands("moved/near.events.csv");
        assert_int_equal(run("moved", (struct options){ .force = true }, &sum), TC_OK);
        assert_edit_stands("moved/near.events.csv");
    }
    print_message("%d edits against %d interruptions\n", rounds, 2 * rounds);
}

/* Kills a run at many moments; the next one finishes it, with the same bytes. */
static void a_killed_run_is_finished_by_the_next(void **state)
{
    (void)state;
    make_clips();
    struct batch_sum sum;
    assert_int_equal(run("whole", (struct options){ .jobs = 1 }, NULL), TC_OK);
    uint64_t whole = folder_digest(scratch_at("whole"), 0);
    int rounds = quick() ? 4 : 16, killed = 0;
    for (int i = 0; i < rounds; i++) {
        char out[16];
        snprintf(out, sizeof out, "out%d", i);
        pid_t child = fork();
        if (child == 0) {
            run(out, (struct options){ .jobs = 2 }, NULL);
            _exit(0);
        }
        nanosleep(&(struct timespec){ 0, 3000000L * i }, NULL);
        kill(child, SIGKILL);
        int status;
        waitpid(child, &status, 0);
        killed += WIFSIGNALED(status);
        assert_int_equal(run(out, (struct options){ .jobs = 2 }, &sum), TC_OK);
        assert_int_equal(sum.done + sum.kept, 3);
        assert_true(folder_digest(scratch_at(out), 0) == whole); /* nothing half-written, nothing hidden is left */
    }
    assert_true(killed > 0);
}

/* Ctrl-C: the same, but with a summary that says what is missing. */
static void a_stopped_run_says_so_and_goes_on(void **state)
{
    (void)state;
    make_clips();
    for (int i = 0; i < 12; i++) {
        char path[32];
        snprintf(path, sizeof path, "clips/more-%d.wav", i);
        clip(path, 20, (uint32_t)i);
    }
    int status = -1;
    pid_t child = fork();
    if (child == 0) {
        stop_watch();
        _exit((int)run("out", (struct options){ .jobs = 1 }, NULL));
    }
    for (int ms = 0; access(scratch_at("out/summary.csv"), F_OK) && ms < 60000; ms++)
        nanosleep(&(struct timespec){ 0, 1000000 }, NULL);
    kill(child, SIGINT);
    waitpid(child, &status, 0);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), TC_ERR_STOPPED);
    char *text = scratch_read(scratch_at("out/summary.csv"), NULL);
    assert_non_null(strstr(text, ",unfinished,"));
    free(text);
    assert_int_equal(count_files(scratch_at("out"), ".part"), 0);
    struct batch_sum sum;
    assert_int_equal(run("out", (struct options){ 0 }, &sum), TC_OK);
    assert_int_equal(sum.done + sum.kept, 15);
    assert_int_equal(sum.unfinished, 0);
}

static void one_run_at_a_time_in_an_output_folder(void **state)
{
    (void)state;
    make_clips();
    mkdir(scratch_at("out"), 0777);
    int lock = open(scratch_at("out"), O_RDONLY | O_DIRECTORY);
    assert_int_equal(flock(lock, LOCK_EX), 0);
    assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_ERR_WRITE);
    assert_non_null(strstr(told, "another thundercue batch is at work there"));
    close(lock);
    assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_OK);
}

static void somebody_elses_summary_is_not_overwritten(void **state)
{
    (void)state;
    make_clips();
    mkdir(scratch_at("out"), 0777);
    scratch_put("out/summary.csv", "act,scene\r\n3,2\r\n");
    assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_ERR_EXISTS);
    assert_non_null(strstr(told, "summary.csv: exists already and is no summary of thundercue"));
    assert_int_equal(count_files(scratch_at("out"), ".csv"), 1);
    assert_int_equal(run("out", (struct options){ .force = true }, NULL), TC_OK);
}

/* A summary that was cut, edited or garbled: its clips are simply not known. */
static void a_garbled_summary_is_survived(void **state)
{
    (void)state;
    make_clips();
    assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_OK);
    size_t size = 0;
    char *text = scratch_read(scratch_at("out/summary.csv"), &size);
    for (size_t cut = 0; cut < size; cut += 1 + size / 40) {
        FILE *out = fopen(scratch_at("out/summary.csv"), "wb");
        fwrite(text, 1, cut, out);
        fclose(out);
        struct batch_sum sum;
        enum tc_status status = run("out", (struct options){ 0 }, &sum);
        if (status == TC_OK) assert_int_equal(sum.kept + sum.refused, 3);
        else assert_int_equal(status, TC_ERR_EXISTS); /* the head itself was cut */
    }
    free(text);
}

static void folders_that_cannot_be_used_are_named(void **state)
{
    (void)state;
    mkdir(scratch_at("clips"), 0777);
    assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_ERR_READ);
    assert_non_null(strstr(told, "clips: there are no recordings in this folder"));
    assert_int_equal(access(scratch_at("out"), F_OK), -1); /* and nothing was made */
    clip("clips/a.wav", 1, 1);
    scratch_put("file", "");
    assert_int_equal(run("file", (struct options){ 0 }, NULL), TC_ERR_WRITE);
    assert_int_equal(run("file/out", (struct options){ 0 }, NULL), TC_ERR_WRITE);
    assert_int_equal(remove(scratch_at("clips/a.wav")), 0);
    assert_int_equal(rmdir(scratch_at("clips")), 0);
    assert_int_equal(run("out", (struct options){ 0 }, NULL), TC_ERR_READ);
    assert_non_null(strstr(told, "clips: the folder can't be read: No such file"));
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(any_number_of_workers_writes_the_same_bytes),
        TEST(a_decoder_that_crashes_costs_its_clip_alone),
        TEST(a_low_limit_on_open_files_means_fewer_workers),
        TEST(only_the_folder_itself_without_recursive),
        TEST(a_bad_clip_is_a_row_and_stops_nobody),
        TEST(what_is_no_file_is_skipped_with_its_reason),
        TEST(clips_of_one_stem_get_names_of_their_own),
        TEST(odd_names_do_no_harm_in_the_summary),
        TEST(what_is_done_is_not_done_again),
        TEST(what_has_changed_is_refused_by_name_without_force),
        TEST(edited_events_are_cued_from_and_stay),
        TEST(other_edits_are_not_overwritten_by_force),
        TEST(an_edit_outlives_runs_that_are_killed),
        TEST(a_killed_run_is_finished_by_the_next),
        TEST(a_stopped_run_says_so_and_goes_on),
        TEST(one_run_at_a_time_in_an_output_folder),
        TEST(somebody_elses_summary_is_not_overwritten),
        TEST(a_garbled_summary_is_survived),
        TEST(folders_that_cannot_be_used_are_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
