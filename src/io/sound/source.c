#include "io/sound/source.h"

#include <errno.h>
#include <pthread.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "hearing/mend.h"
#include "io/process/mute.h"
#include "io/sound/container.h"
#include "io/sound/sound_kind.h"
#include "words/status.h"
#include "words/text.h"

/* The file as it is shown to libsndfile: as it is, or with another head before
 * its sound. */
struct view {
    FILE *file;
    unsigned char *head;    /* shown instead of the first `tail_at` bytes; NULL = nothing */
    int64_t head_size, tail_at, size;
    int64_t at;             /* where libsndfile thinks it is */
    bool endless;           /* an end is not to be found by seeking */
};

struct source {
    SNDFILE *file;
    SF_INFO info;
    FILE *bytes;            /* the file, or a copy of standard input; the view's too */
    struct container container;
    struct view view;
    int64_t frames_read, frames_most;
    int64_t bad_samples;
    char name[512];         /* for messages */
};

/* libsndfile keeps the reason of a failed open in one place for the whole
 * process, so opening and asking why must not be interleaved. */
static pthread_mutex_t open_lock = PTHREAD_MUTEX_INITIALIZER;

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
    if (!(s->bytes = tmpfile())) return "no temporary file can be made in " P_tmpdir " for standard input";
    size_t n;
    while ((n = fread(block, 1, sizeof block, stdin)) > 0)
        if (fwrite(block, 1, n, s->bytes) != n) return "no room for standard input on the disk";
    if (ferror(stdin)) return "can't be read to its end";
    if (fflush(s->bytes)) return "no room for standard input on the disk";
    if (ftello(s->bytes) == 0) return "nothing came in";
    rewind(s->bytes);
    return NULL;
}

/* What is wrong with a path before libsndfile sees it, whose words for it
 * ("System error.") would not help anybody. */
static const char *path_fault(const char *path)
{
    struct stat st;
    if (!*path) return "the name of the recording is empty";
    if (stat(path, &st)) return strerror(errno);
    if (S_ISDIR(st.st_mode))
        return "is a folder; `thundercue batch` takes a folder of clips, `thundercue night` makes an evening of one";
    if (!S_ISREG(st.st_mode)) return "is not a file; for a pipe use '-' as the recording";
    if (access(path, R_OK)) return strerror(errno);
    if (st.st_size == 0) return "is empty";
    return NULL;
}

/* ---- The view ---- */

static sf_count_t view_length(void *user)
{
    return ((struct view *)user)->size;
}

static sf_count_t view_tell(void *user)
{
    return ((struct view *)user)->at;
}

static sf_count_t view_seek(sf_count_t offset, int whence, void *user)
{
    struct view *v = user;
    if (whence == SEEK_END && v->endless) return -1;
    int64_t to = offset + (whence == SEEK_CUR ? v->at : whence == SEEK_END ? v->size : 0);
    if (to < 0) return -1;
    v->at = to;
    return fseeko(v->file, to < v->head_size ? v->tail_at : to - v->head_size + v->tail_at, SEEK_SET) ? -1 : to;
}

static sf_count_t view_read(void *to, sf_count_t count, void *user)
{
    struct view *v = user;
    sf_count_t got = 0;
    if (count > v->size - v->at) count = v->size - v->at;
    if (count <= 0) return 0;
    if (v->at < v->head_size) {
        got = count < v->head_size - v->at ? count : v->head_size - v->at;
        memcpy(to, v->head + v->at, (size_t)got);
    }
    if (got < count) got += (sf_count_t)fread((char *)to + got, 1, (size_t)(count - got), v->file);
    v->at += got;
    return got;
}

static void put_number(unsigned char *to, uint64_t v, int bytes)
{
    for (int i = 0; i < bytes; i++) to[i] = (unsigned char)(v >> 8 * i);
}

/* A WAV file whose size was never filled in, or doesn't fit into its field, is
 * shown as RF64 with the size that is there (EBU Tech 3306): the same chunks
 * after one more at the start. */
static bool show_as_rf64(struct source *s)
{
    enum { RIFF = 12, DS64 = 36, HEAD_MOST = 1 << 20 };
    const struct container *c = &s->container;
    if (c->sound_at < RIFF + 8 || c->sound_at > HEAD_MOST) return false;
    struct view *v = &s->view;
    v->head_size = c->sound_at + DS64;
    unsigned char *h = v->head = calloc(1, (size_t)v->head_size);
    size_t rest = (size_t)(c->sound_at - RIFF);
    if (!h || fseeko(s->bytes, RIFF, SEEK_SET) || fread(h + RIFF + DS64, 1, rest, s->bytes) != rest) return false;
    v->tail_at = c->sound_at;
    v->size = v->head_size + c->sound_size;
    memcpy(h, "RF64\xFF\xFF\xFF\xFFWAVEds64", 16);
    put_number(h + 16, DS64 - 8, 4);
    put_number(h + 20, (uint64_t)v->size - 8, 8);
    put_number(h + 28, (uint64_t)c->sound_size, 8);
    put_number(h + v->head_size - 4, 0xFFFFFFFF, 4);
    return true;
}

static void view_make(struct source *s)
{
    struct view *v = &s->view;
    *v = (struct view){ .file = s->bytes, .size = s->container.file_size };
    bool size_lies = s->container.fit == CONTAINER_OPEN || s->container.fit == CONTAINER_LONGER;
    if (s->container.kind == CONTAINER_WAV && size_lies && !show_as_rf64(s)) {
        free(v->head);
        *v = (struct view){ .file = s->bytes, .size = s->container.file_size };
    }
    /* Where no tag tells its length, the decoder would guess it from its size
     * and end there, which is too soon where the rate varies. */
    v->endless = s->container.kind == CONTAINER_MPEG;
}

/* Of a MIDI sample dump that is cut short, libsndfile repeats the last packet to
 * the length that the header claims: how many frames are there in truth. */
static int64_t frames_there(const struct source *s)
{
    enum { HEAD = 21, PACKET = 127 };
    const struct container *c = &s->container;
    if ((s->info.format & SF_FORMAT_TYPEMASK) != SF_FORMAT_SDS || c->fit != CONTAINER_CUT) return INT64_MAX;
    int64_t packets = (c->declared_size - HEAD) / PACKET;
    return packets > 0 ? s->info.frames * ((c->file_size - HEAD) / PACKET) / packets : INT64_MAX;
}

/* ---- Opening ---- */

static SNDFILE *open_view(struct source *s)
{
    static const SF_VIRTUAL_IO calls = { view_length, view_seek, view_read, NULL, view_tell };
    view_seek(0, SEEK_SET, &s->view);
    s->info = (SF_INFO){ 0 };
    return sf_open_virtual((SF_VIRTUAL_IO *)(uintptr_t)&calls, SFM_READ, &s->info, &s->view);
}

/* A few forms are known by their ending alone: libsndfile needs the path. */
static SNDFILE *open_by_name(struct source *s, const char *path)
{
    s->info = (SF_INFO){ 0 };
    return sf_open(path, SFM_READ, &s->info);
}

static bool ends_like_mpeg(const char *path)
{
    const char *dot = strrchr(path, '.');
    return dot && (text_same(dot, ".mp3") || text_same(dot, ".mp2"));
}

static bool open_file(struct source *s, const char *path, char *reason, size_t size)
{
    pthread_mutex_lock(&open_lock);
    mute_begin();
    s->file = open_view(s);
    if (!s->file && s->view.head) { /* a codec that RF64 is not read with */
        free(s->view.head);
        s->view = (struct view){ .file = s->bytes, .size = s->container.file_size };
        s->file = open_view(s);
    }
    if (!s->file && s->container.kind == CONTAINER_UNKNOWN && strcmp(path, "-")) s->file = open_by_name(s, path);
    mute_end();
    const char *said = s->file ? "" : sf_strerror(NULL);
    if (!strncmp(said, "File does not exist", 19)) { /* libsndfile's word for what no decoder takes */
        bool mpeg = s->container.kind == CONTAINER_MPEG || ends_like_mpeg(path);
        said = mpeg ? "its contents can't be read as MP3." : "its contents make no sense.";
    }
    if (!strncmp(said, "Internal error", 14)) said = "its header makes no sense.";
    const char *hint = sound_hint(path, s->container.name);
    if (s->container.name) said = s->container.name;
    size_t length = strlen(said);
    if (*hint && length && said[length - 1] == '.') length--;
    if (!s->file)
        snprintf(reason, size, "not a recording that can be read: %.*s%s", (int)length, said, hint);
    pthread_mutex_unlock(&open_lock);
    return s->file != NULL;
}

enum tc_status source_open(struct source **out, const char *path, struct tc_problem *why)
{
    *out = NULL;
    struct source *s = calloc(1, sizeof *s);
    if (!s) return problem_say(why, TC_ERR_MEMORY);
    bool input = !strcmp(path, "-");
    text_plain(s->name, sizeof s->name, input ? "standard input" : path);

    const char *fault = input ? spool_input(s) : path_fault(path);
    if (!fault && !input && !(s->bytes = fopen(path, "rb"))) fault = strerror(errno);
    if (fault) return refuse(s, why, fault);
    container_look(s->bytes, &s->container);
    view_make(s);
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
    s->frames_most = frames_there(s);
    *out = s;
    return TC_OK;
}

const char *source_name(const struct source *s)
{
    return s->name;
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
    return s->info.frames < 0 || s->info.frames >= SF_COUNT_MAX ? -1 : s->info.frames;
}

size_t source_read(struct source *s, float *samples, size_t frames)
{
    int form = s->info.format & SF_FORMAT_TYPEMASK;
    bool chatty = form == SF_FORMAT_MPEG || form == SF_FORMAT_SDS;
    if ((int64_t)frames > s->frames_most - s->frames_read) frames = (size_t)(s->frames_most - s->frames_read);
    if (chatty) mute_begin();
    sf_count_t got = sf_readf_float(s->file, samples, (sf_count_t)frames);
    if (chatty) mute_end();
    if (got <= 0) return 0;
    s->frames_read += got;
    s->bad_samples += mend_samples(samples, (size_t)got * (size_t)s->info.channels);
    return (size_t)got;
}

int64_t source_bad_samples(const struct source *s)
{
    return s->bad_samples;
}

void source_remark(const struct source *s, struct tc_problem *remark)
{
    const struct container *c = &s->container;
    int64_t claimed = source_frames(s);
    char bad[128] = "", cut[160] = "";
    if (s->bad_samples)
        snprintf(bad, sizeof bad, s->bad_samples == 1
                 ? "%lld sample was no valid number, or far too loud to be sound: it counts as silence"
                 : "%lld samples were not valid numbers, or far too loud to be sound: they count as silence",
                 (long long)s->bad_samples);
    if (c->fit == CONTAINER_CUT || (claimed > 0 && s->frames_read < claimed))
        snprintf(cut, sizeof cut, "%s",
                 c->kind == CONTAINER_OGG ? "the file ends before its sound does; what is there was used"
                                        : "the file ends before its header says it would; what is there was used");
    else if (c->fit == CONTAINER_LONGER)
        snprintf(cut, sizeof cut, "the file holds more sound than its header can say; all of it was used");
    else if (c->fit == CONTAINER_BEHIND)
        snprintf(cut, sizeof cut, "%lld bytes after the sound that its header declares were left out",
                 (long long)c->behind);
    else if (c->fit == CONTAINER_OPEN && c->kind == CONTAINER_WAV && c->declares_nothing)
        snprintf(cut, sizeof cut, "the header was left unfinished; all that follows it was used");
    remark->text[0] = 0;
    if (*bad || *cut)
        problem_set(remark, TC_OK, "%s: %s%s%s", s->name, cut, *bad && *cut ? "; " : "", bad);
}

/* ---- For the page ---- */

/* Positions in Ogg count from the stream's first sample, unless it was cut out
 * of a longer one; Opus begins with some that are skipped (RFC 7845, 4.2). */
static bool begins_at_zero(const struct source *s)
{
    int64_t more = s->container.last_granule - s->info.frames;
    bool opus = (s->info.format & SF_FORMAT_SUBMASK) == SF_FORMAT_OPUS;
    return opus ? s->info.samplerate == 48000 && more >= 0 && more <= 4800 : more == 0;
}

const char *source_browser_type(const struct source *s)
{
    enum { RATE_LEAST = 8000, RATE_MOST = 96000, CHANNELS_MOST = 2 };
    int form = s->info.format & SF_FORMAT_SUBMASK;
    if (s->container.fit != CONTAINER_WHOLE || source_frames(s) < 1 || s->info.channels > CHANNELS_MOST
        || s->info.samplerate < RATE_LEAST || s->info.samplerate > RATE_MOST)
        return NULL;
    switch (s->container.kind) {
    case CONTAINER_WAV:
        return form == SF_FORMAT_PCM_U8 || form == SF_FORMAT_PCM_16 || form == SF_FORMAT_PCM_24 ? "audio/wav" : NULL;
    case CONTAINER_FLAC: return "audio/flac";
    case CONTAINER_OGG:
        return (form == SF_FORMAT_VORBIS || form == SF_FORMAT_OPUS) && begins_at_zero(s) ? "audio/ogg" : NULL;
    case CONTAINER_MPEG: return s->container.constant_rate ? "audio/mpeg" : NULL;
    default: return NULL;
    }
}

FILE *source_bytes(struct source *s)
{
    return fseeko(s->bytes, 0, SEEK_SET) ? NULL : s->bytes;
}

int64_t source_size(const struct source *s)
{
    return s->container.file_size;
}

void source_close(struct source *s)
{
    if (!s) return;
    if (s->file) sf_close(s->file);
    if (s->bytes) fclose(s->bytes);
    free(s->view.head);
    free(s);
}
