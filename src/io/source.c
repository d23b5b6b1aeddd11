#include "io/source.h"

#include <errno.h>
#include <pthread.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "hearing/samples.h"
#include "words/status.h"
#include "words/text.h"

/* A WAV file whose writer never came to fill in the size of the data: four
 * zeroes are shown to libsndfile as ones, which it takes for "to the end". */
struct unfinished {
    FILE *file;
    sf_count_t size_at;
};

struct source {
    SNDFILE *file;
    SF_INFO info;
    FILE *spool;            /* standard input, copied; NULL for a file */
    struct unfinished unfinished; /* file NULL: not one of these */
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
    if (!*path) return "the name of the recording is empty";
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
    const char *said = s->file ? "" : sf_strerror(NULL);
    if (!strncmp(said, "Internal error", 14)) said = "its header makes no sense.";
    if (!s->file) snprintf(reason, size, "not a recording that can be read: %s", said);
    pthread_mutex_unlock(&open_lock);
    return s->file != NULL;
}

/* ---- Unfinished WAV files ---- */

static sf_count_t patched_length(void *user)
{
    struct stat st;
    return fstat(fileno(((struct unfinished *)user)->file), &st) ? 0 : (sf_count_t)st.st_size;
}

static sf_count_t patched_tell(void *user)
{
    return ftello(((struct unfinished *)user)->file);
}

static sf_count_t patched_seek(sf_count_t offset, int whence, void *user)
{
    fseeko(((struct unfinished *)user)->file, offset, whence);
    return patched_tell(user);
}

static sf_count_t patched_read(void *to, sf_count_t count, void *user)
{
    struct unfinished *u = user;
    sf_count_t from = ftello(u->file), got = (sf_count_t)fread(to, 1, (size_t)count, u->file);
    for (sf_count_t at = u->size_at; at < u->size_at + 4; at++)
        if (at >= from && at < from + got) ((unsigned char *)to)[at - from] = 0xFF;
    return got;
}

static uint32_t little_endian(const unsigned char *b)
{
    return b[0] | (uint32_t)b[1] << 8 | (uint32_t)b[2] << 16 | (uint32_t)b[3] << 24;
}

/* Where the size of an empty `data` chunk stands that has more behind it than
 * another chunk; 0 if there is none. */
static sf_count_t find_unset_size(FILE *file)
{
    enum { CHUNKS_MOST = 1000 };
    unsigned char b[12];
    struct stat st;
    rewind(file);
    if (fstat(fileno(file), &st) || fread(b, 1, 12, file) != 12 || memcmp(b, "RIFF", 4) || memcmp(b + 8, "WAVE", 4))
        return 0;
    for (int n = 0; n < CHUNKS_MOST && fread(b, 1, 8, file) == 8; n++) {
        int64_t size = little_endian(b + 4), at = ftello(file);
        if (!memcmp(b, "data", 4)) {
            if (size || st.st_size - at < 8 || fread(b, 1, 8, file) != 8) return 0;
            bool word = true;
            for (int i = 0; i < 4; i++) word = word && b[i] >= ' ' && b[i] < 127;
            bool chunk_follows = word && at + 8 + little_endian(b + 4) <= st.st_size;
            return chunk_follows ? 0 : at - 4;
        }
        if (fseeko(file, size + size % 2, SEEK_CUR)) return 0;
    }
    return 0;
}

/* Opens again what seems empty for want of a size. Leaves *s as it was if
 * that is not what ails it. */
static void reopen_unfinished(struct source *s, const char *path)
{
    static const SF_VIRTUAL_IO patched = { patched_length, patched_seek, patched_read, NULL, patched_tell };
    FILE *file = s->spool ? s->spool : fopen(path, "rb");
    if (!file) return;
    struct unfinished *u = &s->unfinished;
    *u = (struct unfinished){ file, find_unset_size(file) };
    SF_INFO info = { 0 };
    SNDFILE *again = NULL;
    if (u->size_at) {
        rewind(file);
        pthread_mutex_lock(&open_lock);
        again = sf_open_virtual((SF_VIRTUAL_IO *)(uintptr_t)&patched, SFM_READ, &info, u);
        pthread_mutex_unlock(&open_lock);
    }
    if (again) {
        sf_close(s->file);
        s->file = again;
        s->info = info;
    } else {
        if (!s->spool) fclose(file);
        u->file = NULL;
    }
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
    if (s->info.frames == 0) reopen_unfinished(s, path);
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

size_t source_read(struct source *s, float *samples, size_t frames)
{
    sf_count_t got = sf_readf_float(s->file, samples, (sf_count_t)frames);
    if (got <= 0) return 0;
    s->frames_read += got;
    s->bad_samples += samples_mend(samples, (size_t)got * (size_t)s->info.channels);
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
        ? "the file ends before its header says it would; what is there was used"
        : s->unfinished.file ? "the header was left unfinished; all that follows it was used" : "";
    remark->text[0] = 0;
    if (*bad || *cut)
        problem_set(remark, TC_OK, "%s: %s%s%s", s->name, cut, *bad && *cut ? "; " : "", bad);
}

void source_close(struct source *s)
{
    if (!s) return;
    if (s->file) sf_close(s->file);
    if (s->unfinished.file && s->unfinished.file != s->spool) fclose(s->unfinished.file);
    if (s->spool) fclose(s->spool);
    free(s);
}

bool source_has_ending(const char *path)
{
    /* what the library itself names otherwise */
    static const char *const more[] = { "mp3", "mp2", "oga", "opus", "aif", "aifc", "wave", "rf64", "bwf" };
    const char *dot = strrchr(path, '.');
    if (!dot || strchr(dot, '/')) return false;
    for (size_t i = 0; i < sizeof more / sizeof *more; i++)
        if (text_same(dot + 1, more[i])) return true;
    int count = 0;
    sf_command(NULL, SFC_GET_FORMAT_MAJOR_COUNT, &count, sizeof count);
    for (int i = 0; i < count; i++) {
        SF_FORMAT_INFO info = { .format = i };
        if (!sf_command(NULL, SFC_GET_FORMAT_MAJOR, &info, sizeof info) && text_same(dot + 1, info.extension))
            return true;
    }
    return false;
}
