/* Failure, rehearsed: the nth allocation, open, flush, close, rename and read
 * of each job fails in turn (by the linker's --wrap), the disk is full. Each
 * time the job must say so and leave whole files or none; the address
 * sanitizer's run of this suite adds that nothing leaks. */
#include "cases.h"
#include "check.h"
#include "kept.h"
#include "scratch.h"
#include "wav.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdatomic.h>
#include <sys/mman.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include <sndfile.h>

#include "app/batch/batch.h"
#include "app/clip/recording.h"
#include "app/live/show_load.h"
#include "app/night/night.h"
#include "app/night/night_order.h"
#include "io/files/digest.h"
#include "io/files/outfile.h"
#include "io/files/read_file.h"
#include "io/files/read_form.h"
#include "light/audit.h"
#include "marks/events_text.h"
#include "rig/rig_edit.h"
#include "rig/rig_keep.h"
#include "rig/rig_new.h"
#include "words/settings.h"

/* ---- Faults ---- */

enum fault { NONE, MEMORY, OPENING, FLUSHING, SYNCING, CLOSING, NAMING, LINKING, READING, FAULTS };

static const char *const fault_names[FAULTS] = { "none", "allocation", "open", "flush", "sync", "close", "rename", "link", "read" };

/* Shared with the processes that a batch starts. */
static struct {
    atomic_int armed;          /* enum fault */
    atomic_long left;          /* calls until it strikes */
    atomic_long allocations;
} *shared;

__attribute__((constructor)) static void share(void)
{
    shared = mmap(NULL, sizeof *shared, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (shared == MAP_FAILED) abort();
}

static bool strikes(enum fault f)
{
    return shared->armed == (int)f && atomic_fetch_sub(&shared->left, 1) == 1;
}

#define WRAPPED(type, name, ...) type __real_##name(__VA_ARGS__); type __wrap_##name(__VA_ARGS__); type __wrap_##name(__VA_ARGS__)

static bool no_memory(void)
{
    shared->allocations++;
    if (!strikes(MEMORY)) return false;
    errno = ENOMEM;
    return true;
}

static bool fails(enum fault f, int error)
{
    if (!strikes(f)) return false;
    errno = error;
    return true;
}

WRAPPED(void *, malloc, size_t n) { return no_memory() ? NULL : __real_malloc(n); }
WRAPPED(void *, calloc, size_t n, size_t each) { return no_memory() ? NULL : __real_calloc(n, each); }
WRAPPED(void *, realloc, void *p, size_t n) { return no_memory() ? NULL : __real_realloc(p, n); }
WRAPPED(char *, strdup, const char *s) { return no_memory() ? NULL : __real_strdup(s); }
WRAPPED(char *, strndup, const char *s, size_t n) { return no_memory() ? NULL : __real_strndup(s, n); }
WRAPPED(FILE *, open_memstream, char **text, size_t *size) { return no_memory() ? NULL : __real_open_memstream(text, size); }
WRAPPED(FILE *, fopen, const char *path, const char *mode) { return fails(OPENING, EMFILE) ? NULL : __real_fopen(path, mode); }
WRAPPED(FILE *, fdopen, int fd, const char *mode) { return fails(OPENING, EMFILE) ? NULL : __real_fdopen(fd, mode); }
WRAPPED(FILE *, tmpfile, void) { return fails(OPENING, EMFILE) ? NULL : __real_tmpfile(); }
WRAPPED(int, fflush, FILE *f) { return fails(FLUSHING, ENOSPC) ? EOF : __real_fflush(f); }
WRAPPED(int, fsync, int fd) { return fails(SYNCING, EIO) ? -1 : __real_fsync(fd); }
WRAPPED(int, fclose, FILE *f)
{
    bool failing = strikes(CLOSING);
    int result = __real_fclose(f); /* closed all the same, as close(2) does */
    if (failing) errno = EIO;
    return failing ? EOF : result;
}
WRAPPED(int, rename, const char *a, const char *b) { return fails(NAMING, EACCES) ? -1 : __real_rename(a, b); }
WRAPPED(int, link, const char *a, const char *b) { return fails(LINKING, EPERM) ? -1 : __real_link(a, b); }
WRAPPED(sf_count_t, sf_readf_float, SNDFILE *f, float *to, sf_count_t n) { return strikes(READING) ? 0 : __real_sf_readf_float(f, to, n); }
WRAPPED(size_t, fread, void *to, size_t each, size_t n, FILE *f) { return fails(READING, EIO) ? 0 : __real_fread(to, each, n, f); }

static void arm(enum fault f, long n)
{
    shared->left = n;
    shared->armed = (int)f;
}

/* True if the fault has struck. */
static bool disarm(void)
{
    shared->armed = NONE;
    return shared->left <= 0;
}

/* ---- Jobs ---- */

static enum tc_status cue(bool preview, bool force)
{
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig = { 0 };
    struct outcome o;
    struct tc_problem why = { "" };
    struct job job = { .recording = scratch_at("clips/a.wav"), .out_dir = scratch_at("out"), .preview = preview,
                       .over = force ? OVER_OURS : OVER_NOTHING };
    enum tc_status status = tc_rig_builtin(&rig);
    if (status == TC_OK) {
        status = recording_run(&job, &rig, &s, &o, &why);
        if (status != TC_OK && !*why.text) fail_msg("failed without a word");
        outcome_clear(&o);
    }
    tc_rig_clear(&rig);
    return status;
}

static enum tc_status cue_plain(void) { return cue(false, false); }
static enum tc_status cue_over(void) { return cue(false, true); }
static enum tc_status cue_page(void) { return cue(true, false); }

static enum tc_status batch(void)
{
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig = { 0 };
    struct batch_sum sum;
    struct tc_problem why = { "" };
    struct batch b = { .folder = scratch_at("clips"), .out_dir = scratch_at("out"), .jobs = 1 };
    enum tc_status status = tc_rig_builtin(&rig);
    if (status == TC_OK) status = batch_run(&b, &rig, &s, &sum, NULL, NULL, &why);
    tc_rig_clear(&rig);
    return status;
}

static enum tc_status rig_file(void)
{
    struct tc_rig rig;
    struct tc_problem why;
    enum tc_status status = read_rig(scratch_at("mill.rig"), &rig, &why);
    tc_rig_clear(&rig);
    return status;
}

static enum tc_status events_file(void)
{
    struct marks m;
    struct tc_problem why;
    enum tc_status status = read_marks(scratch_at("events.csv"), &m, &why);
    marks_clear(&m);
    return status;
}

static enum tc_status settings_file(void)
{
    struct tc_settings s = tc_settings_default();
    struct tc_problem why;
    return read_settings(scratch_at("show.conf"), &s, &why);
}

static enum tc_status check_frames(void)
{
    struct audit a = { 0 };
    struct tc_problem why;
    struct audit_job job = { .name = "frames.csv", .limit = 3 };
    struct file_text text;
    enum tc_status status = file_read(scratch_at("frames.csv"), TC_ERR_READ, &text, &why);
    if (status == TC_OK) status = audit_run(&job, text.bytes, text.size, &a, &why);
    audit_clear(&a);
    file_text_free(&text);
    return status;
}

static enum tc_status night(void)
{
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig = { 0 };
    struct night_outcome o = { 0 };
    struct tc_problem why = { "" };
    struct inputs inputs = { 0 };
    char out[600];
    snprintf(out, sizeof out, "%s", scratch_at("out/evening"));
    struct night_job job = { .folder = scratch_at("clips"), .out = out, .lufs = -23, .form = JOINED_WAV, .bits = 16,
                             .jobs = 1, .inputs = &inputs, .day_s = NIGHT_NO_DAY,
                             .wish = { .length_ms = 6000, .gap_least_ms = 500, .gap_most_ms = 1000 } };
    enum tc_status status = tc_rig_builtin(&rig);
    if (status == TC_OK) {
        status = night_run(&job, &rig, &s, false, &o, &why);
        if (status != TC_OK && !*why.text) fail_msg("failed without a word");
        night_clear(&o);
    }
    inputs_clear(&inputs);
    tc_rig_clear(&rig);
    return status;
}

static enum tc_status load_show(const char *thing)
{
    static struct show_thing loaded;
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig = { 0 };
    struct tc_problem why = { "" };
    struct show_job job = { .thing = thing, .no_sound = true, .quiet = true };
    enum tc_status status = tc_rig_builtin(&rig);
    if (status == TC_OK) {
        status = show_load(&loaded, &job, &rig, &s, &why);
        if (status != TC_OK && !*why.text) fail_msg("failed without a word");
        show_thing_clear(&loaded);
    }
    tc_rig_clear(&rig);
    return status;
}

static enum tc_status load_recording(void) { return load_show(scratch_at("clips/a.wav")); }
static enum tc_status load_frames(void) { return load_show(scratch_at("show.frames.csv")); }

/* BEARS: it writes, but goes on without a recording that can't be had. */
enum job_kind { READS, WRITES, BEARS };

static const struct job_row {
    const char *name;
    enum tc_status (*run)(void);
    enum job_kind kind;
} jobs[] = {
    { "cue", cue_plain, WRITES },
    { "cue over old files", cue_over, WRITES },
    { "cue with page", cue_page, WRITES },
    { "batch", batch, BEARS },
    { "night", night, BEARS },
    { "rig file", rig_file, READS },
    { "events file", events_file, READS },
    { "settings file", settings_file, READS },
    { "check", check_frames, READS },
    { "show of a recording", load_recording, READS },
    { "show of frames", load_frames, READS },
};

static void clip(const char *name, uint32_t seed)
{
    struct bytes b = { 0 };
    wav_storm(&b, 2, 8000, 1.5, seed);
    bytes_save(&b, scratch_at(name));
    free(b.data);
}

/* A light frame of the built-in rig between two dark ones. */
static void put_show(const char *name)
{
    struct tc_rig rig;
    FILE *out = fopen(scratch_at(name), "wb");
    assert_non_null(out);
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    fputs("time_s", out);
    for (size_t c = 0; c < rig.channel_count; c++) fprintf(out, ",%s", rig.channels[c].name);
    for (int f = 0; f < 3; f++) {
        fprintf(out, "\r\n%.3f", 0.025 * f);
        for (size_t c = 0; c < rig.channel_count; c++) fputs(f == 1 ? ",50.0" : ",0.0", out);
    }
    fputs("\r\n", out);
    assert_int_equal(fclose(out), 0);
    tc_rig_clear(&rig);
}

static int set_up(void **state)
{
    (void)state;
    scratch_set_up(NULL);
    mkdir(scratch_at("clips"), 0777);
    clip("clips/a.wav", 1);
    clip("clips/b.wav", 2);
    scratch_put("events.csv", "kind,start_s,end_s\r\ncrack,0.5,\r\nrumble,0.6,1.2\r\n");
    scratch_put("show.conf", "sensitivity = 60\n");
    scratch_put("frames.csv", "time_s,a,b\r\n0.000,0.0,0.0\r\n0.025,100.0,50.0\r\n0.050,0.0,0.0\r\n");
    put_show("show.frames.csv");
    scratch_put("mill.rig",
                "[circuit left]\nbreaker_amps = 15\n[channel 1]\nname = trunk\nkind = branch\nwatts = 5\n"
                "circuit = left\n"
                    "[channel 2]\nname = wash\nkind = flood\nwatts = 15\ncircuit = left\n");
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    scratch_tear_down(NULL);
    return 0;
}

/* ---- What must hold whatever fails ---- */

enum { FILES_MOST = 64 };

struct whole {
    char name[256];
    uint64_t digest;
};
static struct whole wholes[FILES_MOST];
static size_t whole_count;

static size_t look_at(const char *folder, struct whole *to)
{
    struct dirent **entries;
    int n = scandir(folder, &entries, NULL, alphasort);
    size_t count = 0;
    for (int i = 0; i < n; i++) {
        char path[1200];
        snprintf(path, sizeof path, "%s/%s", folder, entries[i]->d_name);
        if (strcmp(entries[i]->d_name, ".") && strcmp(entries[i]->d_name, "..")) {
            assert_true(count < FILES_MOST);
            snprintf(to[count].name, sizeof to[count].name, "%s", entries[i]->d_name);
            to[count].digest = 0;
            assert_true(digest_file(&to[count++].digest, path, NULL));
        }
        free(entries[i]);
    }
    if (n >= 0) free(entries);
    return count;
}

/* Every file there is one of the whole ones (the batch's summary differs). */
static void assert_whole_files_only(const struct job_row *job, enum fault fault, long n)
{
    /* less of the sound was heard, or of an evening's recordings: other bytes, but whole files */
    bool shorter = fault == READING || job->run == night;
    struct whole now[FILES_MOST];
    size_t count = look_at(scratch_at("out"), now);
    for (size_t i = 0; i < count; i++) {
        /* depend on what came before */
        bool known = !strcmp(now[i].name, "summary.csv") || !strcmp(now[i].name, ".thundercue");
        for (size_t k = 0; k < whole_count && !known; k++)
            known = !strcmp(now[i].name, wholes[k].name) && (shorter || now[i].digest == wholes[k].digest);
        if (!known) fail_msg("%s, %s %ld: %s is left and not whole", job->name, fault_names[fault], n, now[i].name);
    }
}

static void every_fault_is_told_and_leaves_whole_files_or_none(void **state)
{
    (void)state;
    for (size_t j = 0; j < COUNT(jobs); j++) {
        const struct job_row *job = &jobs[j];
        scratch_remove(scratch_at("out"));
        if (job->run == cue_over) assert_int_equal(cue_plain(), TC_OK);
        assert_int_equal(job->run(), TC_OK);
        whole_count = job->kind != READS ? look_at(scratch_at("out"), wholes) : 0;
        for (int f = NONE + 1; f < FAULTS; f++) {
            long n = 1, told = 0, borne = 0, step = quick() && f == MEMORY ? 7 : 1;
            for (bool struck = true; struck; n += step) {
                scratch_remove(scratch_at("out"));
                if (job->run == cue_over) assert_int_equal(cue_plain(), TC_OK);
                arm((enum fault)f, n);
                enum tc_status status = job->run();
                struck = disarm();
                if (job->kind != READS) assert_whole_files_only(job, (enum fault)f, n);
                if (!struck) assert_int_equal(status, TC_OK);
                if (status == TC_ERR_INTERNAL || status == TC_ERR_USAGE)
                    fail_msg("%s, %s %ld: status %d", job->name, fault_names[f], n, status);
                told += struck && status != TC_OK;
                borne += struck && status == TC_OK;
                if (n > 20000) fail_msg("%s: no end of %s calls", job->name, fault_names[f]);
            }
            if (told + borne)
                print_message("%-20s %-10s %4ld failed in turn: %4ld told, %3ld borne\n", job->name, fault_names[f],
                              told + borne, told, borne);
            bool must_tell = f != READING && f != MEMORY && f != LINKING && (job->kind != READS || f != CLOSING);
            /* Closing what was only read is harmless: the recording, outputs for their digests (old
             * ones twice), the ledger; which is safe on the disk, too, before it is closed. */
            long outputs = job->run == cue_page ? 4 : 3;
            long harmless = f != CLOSING ? 0 : 2 + outputs + (job->run == cue_over ? 1 + 2 * outputs : 0);
            if (job->kind != BEARS && must_tell) assert_int_equal(borne, harmless);
            if (f == LINKING) assert_int_equal(told, 0); /* a disk without hard links: rename does it */
        }
    }
}

/* ---- What the library reads, writes and makes of texts in memory ---- */

static const char rig_text[] = "[rig]\nname = Mill pond\n[circuit left]\nbreaker_amps = 15\n[channel 1]\n"
                               "name = trunk\nkind = branch\n"
                               "watts = 5\ncircuit = left\n[channel 2]\nname = wash\nkind = flood\nwatts = 15\n"
                               "circuit = left\n";

static enum tc_status rig_texts(struct tc_sink to)
{
    struct tc_rig rig = { 0 };
    enum tc_status status = tc_rig_read(rig_text, sizeof rig_text - 1, "mill.rig", &rig, NULL);
    if (status == TC_OK) status = tc_rig_write(&rig, to, NULL);
    if (status == TC_OK) rig.channels[0].watts = 7;
    bool kept;
    if (status == TC_OK) status = rig_keep(&rig, rig_text, sizeof rig_text - 1, "mill.rig", to, &kept, NULL);
    tc_rig_clear(&rig);
    return status;
}

static enum tc_status new_rigs(struct tc_sink to)
{
    enum tc_status status = rig_new_write(to, &(struct rig_plan){ .branches = 5, .floods = 2, .channels = 4 }, NULL);
    if (status == TC_OK) status = rig_new_example(to);
    return status == TC_OK ? rig_edit_min_level(rig_text, sizeof rig_text - 1, 2, 12.5, &to) : status;
}

static enum tc_status settings_texts(struct tc_sink to)
{
    static const char text[] = "sensitivity = 60\nseed = 4\n";
    struct tc_settings s = tc_settings_default();
    enum tc_status status = tc_settings_read(text, sizeof text - 1, "show.conf", &s, NULL);
    return status == TC_OK ? tc_settings_write(&s, true, to, NULL) : status;
}

static enum tc_status events_texts(struct tc_sink to)
{
    static const char text[] = "kind,start_s,end_s\r\ncrack,0.5,\r\nrumble,0.6,1.2\r\ncrack,0.9,\r\n";
    struct tc_settings s = tc_settings_default();
    struct tc_analysis a = { 0 };
    struct tc_rig rig = { 0 };
    struct tc_timeline plan = { 0 };
    struct tc_check check = { 0 };
    enum tc_status status = tc_events_read(text, sizeof text - 1, "storm.events.csv", &a, NULL, NULL);
    if (status == TC_OK) status = tc_analysis_imagine(&a, s.frame_rate);
    if (status == TC_OK) status = tc_events_write(&a, to, NULL);
    if (status == TC_OK) status = tc_rig_builtin(&rig);
    if (status == TC_OK) status = tc_cue(&a, &rig, &s, NULL, &plan, NULL);
    if (status == TC_OK) status = tc_frames_write(&plan, &rig, &s, NULL, to, NULL);
    if (status == TC_OK) status = tc_ramps_write(&plan, &rig, &s, NULL, to, NULL);
    s.loop = true;
    if (status == TC_OK) status = tc_check_run(&plan, &rig, &s, NULL, &check, NULL);
    tc_check_clear(&check);
    tc_timeline_clear(&plan);
    tc_rig_clear(&rig);
    tc_analysis_clear(&a);
    return status;
}

static enum tc_status listening(struct tc_sink to)
{
    static float samples[2 * 8000];
    struct tc_analysis a = { 0 };
    uint32_t noise = 1;
    for (size_t i = 0; i < COUNT(samples); i++) {
        noise = noise * 1664525u + 1013904223u;
        samples[i] = (float)((0.001 + exp(-4 * fmod((double)i / 8000, 0.7))) * ((double)(noise >> 8) / 8388608.0 - 1));
    }
    enum tc_status status = tc_listen(samples, COUNT(samples), 8000, 1, NULL, NULL, &a);
    if (status == TC_OK) status = tc_analysis_choose(&a, 80);
    if (status == TC_OK) status = tc_events_write(&a, to, NULL);
    tc_analysis_clear(&a);
    return status;
}

/* Somebody else's table: semicolons, decimal commas, columns in another order, one that is no channel. */
static enum tc_status foreign_frames(struct tc_sink to)
{
    static const char text[] = "wash;time_s;trunk;lever\r\n0,0;0,000;0,0;1\r\n50,0;0,025;100,0;x\r\n"
                               "0,0;0,050;0,0;1\r\n";
    static const char whole[] = "trunk\twash\ttime_s\r\n0,0\t0,0\t0,000\r\n50,0\t100,0\t0,025\r\n0,0\t0,0\t0,050\r\n";
    struct tc_rig rig = { 0 };
    struct audit a = { 0 };
    (void)to;
    enum tc_status status = tc_rig_read(rig_text, sizeof rig_text - 1, "mill.rig", &rig, NULL);
    if (status == TC_OK)
        status = audit_run(&(struct audit_job){ .name = "a.csv", .rig = &rig, .limit = 3, .loop = true }, text,
                           sizeof text - 1, &a, NULL);
    audit_clear(&a);
    if (status == TC_OK)
        status = audit_run(&(struct audit_job){ .name = "a.csv", .limit = 3 }, text, sizeof text - 1, &a, NULL);
    audit_clear(&a);
    struct tc_check check = { 0 };
    if (status == TC_OK) status = tc_check_frames(whole, sizeof whole - 1, "a.csv", &rig, NULL, NULL, &check, NULL);
    tc_check_clear(&check);
    tc_rig_clear(&rig);
    return status;
}

static enum tc_status running_order(struct tc_sink to)
{
    static const char text[] = "start_s,file,gain_db\r\n0.0,a.wav,-3\r\n9.5,b.wav,\r\n20,a.wav,\r\n";
    static const char *const names[] = { "a.wav", "b.wav" };
    static const struct night_clip clips[] = { { 4000, 50 }, { 3000, 10 } };
    static const double gains[] = { -1, -2 }, most[] = { 3, 3 };
    struct night_list list = { names, clips, gains, most, 2 };
    struct night_plan p = { 0 };
    struct night_ground ground = { .seed = 1, .day_s = NIGHT_NO_DAY };
    enum tc_status status = night_order_read(text, sizeof text - 1, "a.night.csv", &list, &p, &ground, NULL);
    if (status == TC_OK) status = night_order_write(&p, &list, ground, to);
    night_plan_clear(&p);
    return status;
}

/* Out of memory is told as that, at whatever allocation. */
static void texts_tell_of_every_allocation_that_fails(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        enum tc_status (*run)(struct tc_sink to);
    } rows[] = {
        { "rig texts", rig_texts }, { "new rigs", new_rigs }, { "settings texts", settings_texts },
        { "events, cue, CSV", events_texts }, { "listening", listening }, { "foreign frames", foreign_frames },
        { "running order", running_order },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        long n = 0;
        for (bool struck = true; struck;) {
            struct kept text = { NULL, 0 };
            arm(MEMORY, ++n);
            enum tc_status status = rows[i].run(kept_sink(&text));
            struck = disarm();
            kept_free(&text);
            if (status != (struck ? TC_ERR_MEMORY : TC_OK))
                fail_msg("%s, allocation %ld: status %d", rows[i].name, n, status);
        }
        print_message("%-20s %4ld allocations failed in turn\n", rows[i].name, n - 1);
        assert_true(n > 1);
    }
}

/* A batch bears what hits one clip: the other is delivered. */
static void a_batch_delivers_the_other_clip(void **state)
{
    (void)state;
    for (long n = 1; n <= 10; n++) { /* the summary, three files of each clip with their ledger, the summary again */
        scratch_remove(scratch_at("out"));
        arm(SYNCING, n);
        enum tc_status status = batch();
        assert_true(disarm());
        struct whole now[FILES_MOST];
        size_t files = look_at(scratch_at("out"), now);
        bool summary = n == 1 || n == 10;
        assert_int_equal(status, summary ? TC_ERR_WRITE : TC_OK);
        assert_int_equal(files, n == 1 ? 0 : n == 10 ? 8 : 5); /* with the ledger */
    }
}

/* setrlimit(2): every write beyond so many bytes fails, at whatever byte. */
static void a_disk_that_fills_up_leaves_none_of_the_files(void **state)
{
    (void)state;
    signal(SIGXFSZ, SIG_IGN);
    struct rlimit before, limit;
    getrlimit(RLIMIT_FSIZE, &before);
    for (rlim_t room = 0; room < 6000; room += quick() ? 1000 : 250) {
        scratch_remove(scratch_at("out"));
        limit = before;
        limit.rlim_cur = room;
        setrlimit(RLIMIT_FSIZE, &limit);
        enum tc_status status = cue_plain();
        setrlimit(RLIMIT_FSIZE, &before);
        struct whole now[FILES_MOST];
        size_t files = look_at(scratch_at("out"), now);
        if (status == TC_OK) assert_int_equal(files, 4); /* with the ledger */
        else assert_true(files == 0 || (files == 1 && !strcmp(now[0].name, ".thundercue")));
        if (status != TC_OK) assert_int_equal(status, TC_ERR_WRITE);
        if (room == 0) assert_int_equal(status, TC_ERR_WRITE);
    }
}

/* A real file system that is too small. */
static void a_full_file_system_leaves_none_of_the_files(void **state)
{
    (void)state;
    mkdir(scratch_at("out"), 0777);
    if (mount("none", scratch_at("out"), "tmpfs", 0, "size=12k")) {
        print_message("skipped: no small file system may be mounted here (%s)\n", strerror(errno));
        skip();
    }
    enum tc_status status = cue_plain();
    struct whole now[FILES_MOST];
    size_t files = look_at(scratch_at("out"), now);
    umount(scratch_at("out"));
    assert_int_equal(status, TC_ERR_WRITE);
    assert_int_equal(files, 0);
}

/* A folder opens like a file, and every read of it fails (read(2), EISDIR). */
static void a_file_that_cannot_be_read_is_an_error_not_the_end(void **state)
{
    (void)state;
    struct tc_problem why = { "" };
    struct marks m;
    struct tc_settings s = tc_settings_default();
    struct tc_rig rig;
    assert_int_equal(read_marks(scratch_at("clips"), &m, &why), TC_ERR_FORM);
    assert_int_equal(read_settings(scratch_at("clips"), &s, &why), TC_ERR_FORM);
    assert_int_equal(read_rig(scratch_at("clips"), &rig, &why), TC_ERR_RIG);
}

/* ---- Memory ---- */

static void listening_allocates_nothing_after_its_set_up(void **state)
{
    (void)state;
    enum { RATE = 8000, CHANNELS = 2, BLOCK = 4096, MINUTES = 10 };
    static float block[BLOCK * CHANNELS];
    struct tc_settings s = tc_settings_default();
    struct tc_listener *l;
    struct tc_analysis heard;
    assert_int_equal(tc_listener_create(&l, &s, RATE, CHANNELS), TC_OK);
    uint32_t noise = 1;
    long before = shared->allocations;
    for (int64_t done = 0; done < MINUTES * 60 * RATE; done += BLOCK) {
        for (int i = 0; i < BLOCK * CHANNELS; i++) { /* a crack every 8 s or so */
            noise = noise * 1664525u + 1013904223u;
            double since = fmod((double)(done + i / CHANNELS) / RATE, 8);
            block[i] = (float)((0.001 + exp(-3 * since)) * ((double)(noise >> 8) / 8388608.0 - 1));
        }
        assert_int_equal(tc_listener_push(l, block, BLOCK), TC_OK);
    }
    assert_int_equal(shared->allocations - before, 0);
    assert_int_equal(tc_listener_finish(l, &heard), TC_OK);
    assert_true(heard.event_count > 20); /* it did listen */
    tc_listener_destroy(l);
    tc_analysis_clear(&heard);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(every_fault_is_told_and_leaves_whole_files_or_none),
        TEST(texts_tell_of_every_allocation_that_fails),
        TEST(a_batch_delivers_the_other_clip),
        TEST(a_disk_that_fills_up_leaves_none_of_the_files),
        TEST(a_full_file_system_leaves_none_of_the_files),
        TEST(a_file_that_cannot_be_read_is_an_error_not_the_end),
        TEST(listening_allocates_nothing_after_its_set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
