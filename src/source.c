#include "source.h"

#include <errno.h>
#include <math.h>
#include <pthread.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "status.h"
#include "text.h"

struct source {
    SNDFILE *file;
    SF_INFO info;
    FILE *spool;            /* standard input, copied; NULL for a file */
    int64_t frames_read;
    int64_t bad_samples;
    bool cut_short;         /* the header promised more than the file holds */
    char name[512];         /* for messages */
};

/* libsndfile keeps the reason of a failed open in one place for the whole
 * process, so opening and asking why must not be interleaved. */
static pthread_mutex_t open_lock = PTHREAD_MUTEX_INITIALIZER;

/* The library notes in its log where a chunk claims more than the file has. */
static bool log_says_cut_short(SNDFILE *file)
{
    enum { LOG_BYTES = 1 << 15 };
    char *log = calloc(1, LOG_BYTES);
    if (!log) return false;
    sf_command(file, SFC_GET_LOG_INFO, log, LOG_BYTES - 1);
    const char *data = strstr(log, "data : ");
    const char *end = data ? strchr(data, '\n') : NULL;
    const char *note = data ? strstr(data, "should be") : NULL;
    bool cut = false;
    if (note && end && note < end) {
        long long claimed = atoll(data + 7), real = atoll(note + 9);
        /* 0 and all ones are what interrupted and piped writers leave */
        cut = claimed > real && claimed != 0xFFFFFFFFll && claimed < 0x7FFFF000ll;
    }
    free(log);
    return cut;
}

static enum tc_status refuse(struct source *s, struct tc_problem *why, const char *reason)
{
    enum tc_status status = problem_set(why, TC_ERR_READ, "%s: %s", s->name, reason);
    source_close(s);
    return status;
}

/* Copies standard input to an unnamed file on disk. */
static const char *spool_input(struct source *s)
{
    char block[1 << 14];
    if (!(s->spool = tmpfile())) return "no temporary file can be made for standard input";
    size_t n;
    while ((n = fread(block, 1, sizeof block, stdin)) > 0)
        if (fwrite(block, 1, n, s->spool) != n) return "no room for standard input on the disk";
    if (ferror(stdin)) return "can't be read to its end";
    if (fflush(s->spool)) return "no room for standard input on the disk";
    if (ftello(s->spool) == 0) return "nothing came in";
    rewind(s->spool);
    return NULL;
}

/* What is wrong with a path before libsndfile sees it, whose words for it
 * ("System error.") would not help anybody. */
static const char *path_fault(const char *path)
{
    struct stat st;
    if (stat(path, &st)) return strerror(errno);
    if (S_ISDIR(st.st_mode)) return "is a folder; `thundercue batch` takes folders";
    if (!S_ISREG(st.st_mode)) return "is not a file; for a pipe use '-' as the recording";
    if (access(path, R_OK)) return strerror(errno);
    if (st.st_size == 0) return "is empty";
    return NULL;
}

static bool open_file(struct source *s, const char *path, char *reason, size_t size)
{
    pthread_mutex_lock(&open_lock);
    s->file = s->spool ? sf_open_fd(fileno(s->spool), SFM_READ, &s->info, SF_FALSE)
                       : sf_open(path, SFM_READ, &s->info);
    if (!s->file) snprintf(reason, size, "not a recording that can be read: %s", sf_strerror(NULL));
    pthread_mutex_unlock(&open_lock);
    return s->file != NULL;
}

enum tc_status source_open(struct source **out, const char *path, struct tc_problem *why)
{
    *out = NULL;
    struct source *s = calloc(1, sizeof *s);
    if (!s) return problem_set(why, TC_ERR_MEMORY, "out of memory");
    bool input = !strcmp(path, "-");
    text_plain(s->name, sizeof s->name, input ? "standard input" : path);

    const char *fault = input ? spool_input(s) : path_fault(path);
    if (fault) return refuse(s, why, fault);
    char reason[256];
    if (!open_file(s, path, reason, sizeof reason)) return refuse(s, why, reason);
    if (s->info.channels < 1 || s->info.channels > 64) {
        snprintf(reason, sizeof reason, "has %d channels; 1 to 64 can be heard", s->info.channels);
        return refuse(s, why, reason);
    }
    if (s->info.samplerate < 1000 || s->info.samplerate > 768000) {
        snprintf(reason, sizeof reason, "has a sample rate of %d Hz; 8000 to 192000 are usual",
                 s->info.samplerate);
        return refuse(s, why, reason);
    }
    s->cut_short = log_says_cut_short(s->file);
    *out = s;
    return TC_OK;
}

double source_rate(const struct source *s)
{
    return s->info.samplerate;
}

int source_channels(const struct source *s)
{
    return s->info.channels;
}

int64_t source_frames(const struct source *s)
{
    return s->info.frames < 0 || s->info.frames == SF_COUNT_MAX ? -1 : s->info.frames;
}

/* Infinities and NaN have all exponent bits set. Counting is a loop that the
 * compiler vectorises; mending is rare. */
static int64_t mend(float *samples, size_t n)
{
    const uint32_t exponent = 0x7F800000u;
    uint32_t bad = 0;
    for (size_t i = 0; i < n; i++) {
        uint32_t bits;
        memcpy(&bits, samples + i, sizeof bits);
        bad += (bits & exponent) == exponent;
    }
    if (!bad) return 0;
    for (size_t i = 0; i < n; i++)
        if (!isfinite(samples[i])) samples[i] = 0;
    return bad;
}

size_t source_read(struct source *s, float *samples, size_t frames)
{
    sf_count_t got = sf_readf_float(s->file, samples, (sf_count_t)frames);
    if (got <= 0) return 0;
    s->frames_read += got;
    s->bad_samples += mend(samples, (size_t)got * (size_t)s->info.channels);
    return (size_t)got;
}

int64_t source_bad_samples(const struct source *s)
{
    return s->bad_samples;
}

void source_remark(const struct source *s, struct tc_problem *remark)
{
    int64_t claimed = source_frames(s);
    bool ended_early = claimed > 0 && s->frames_read < claimed;
    char bad[128] = "";
    if (s->bad_samples)
        snprintf(bad, sizeof bad, "%lld samples were no numbers and count as silence",
                 (long long)s->bad_samples);
    const char *cut = ended_early || s->cut_short
        ? "the file ends before its header says it would; what is there was used" : "";
    remark->text[0] = 0;
    if (*bad || *cut)
        problem_set(remark, TC_OK, "%s: %s%s%s", s->name, cut, *bad && *cut ? "; " : "", bad);
}

void source_close(struct source *s)
{
    if (!s) return;
    if (s->file) sf_close(s->file);
    if (s->spool) fclose(s->spool);
    free(s);
}

bool source_is_recording(const char *path)
{
    struct source *s;
    if (source_open(&s, path, NULL) != TC_OK) return false;
    source_close(s);
    return true;
}
