#include "app/night/night_memory.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/files/digest.h"
#include "io/files/folder.h"
#include "io/files/outfile.h"
#include "words/settings.h"

static const char form[] = "thundercue heard 1\n";
/* About two thousand clips of half a minute. */
enum { BYTES_MOST = 16 << 20 };

/* As it stands in the file, before its bytes. */
struct entry_head {
    uint64_t content, ground, size, check;
};

struct entry {
    struct entry_head head;
    char *bytes;             /* within `text`, or its own */
    bool own;
};

struct night_memory {
    char *path;
    char *text;              /* the file as it was read */
    struct entry *entries;   /* those added come last */
    size_t count, room, read_count;
};

static struct entry *add_entry(struct night_memory *m)
{
    if (m->count == m->room) {
        size_t room = m->room ? 2 * m->room : 64;
        struct entry *more = realloc(m->entries, room * sizeof *more);
        if (!more) return NULL;
        m->entries = more;
        m->room = room;
    }
    return &m->entries[m->count++];
}

static bool read_bytes(struct night_memory *m, size_t *size)
{
    FILE *in = fopen(m->path, "rb");
    m->text = in ? malloc(BYTES_MOST) : NULL;
    *size = m->text ? fread(m->text, 1, BYTES_MOST, in) : 0;
    if (in) fclose(in);
    return m->text != NULL;
}

/* What doesn't add up, and all after it, is passed over. */
static void read_entries(struct night_memory *m, size_t size)
{
    size_t at = sizeof form - 1;
    if (size < at || memcmp(m->text, form, at)) return;
    while (size - at >= sizeof(struct entry_head)) {
        struct entry_head head;
        memcpy(&head, m->text + at, sizeof head);
        at += sizeof head;
        if (head.size > size - at || digest_bytes(head.content ^ head.ground, m->text + at,
                                                  (size_t)head.size) != head.check) return;
        struct entry *e = add_entry(m);
        if (!e) return;
        *e = (struct entry){ .head = head, .bytes = m->text + at };
        at += (size_t)head.size;
    }
}

enum tc_status night_memory_open(struct night_memory **out, const char *folder)
{
    struct night_memory *m = *out = calloc(1, sizeof *m);
    size_t size;
    if (!m) return TC_ERR_MEMORY;
    if (!(m->path = folder_join(folder, NIGHT_MEMORY_NAME))) {
        night_memory_close(m);
        *out = NULL;
        return TC_ERR_MEMORY;
    }
    if (read_bytes(m, &size)) read_entries(m, size);
    m->read_count = m->count;
    return TC_OK;
}

uint64_t night_memory_ground(const struct tc_settings *s, int rate)
{
    char text[64];
    uint64_t digest = digest_text(0, TC_VERSION);
    digest_file(&digest, "/proc/self/exe", NULL); /* another build may hear otherwise */
    for (size_t i = 0; i < setting_count(); i++) {
        const struct setting *row = setting_at(i);
        if (row->use & (SETTING_HEARING | SETTING_FRAMES))
            digest = digest_text(digest, setting_value(row, s, text, sizeof text));
    }
    snprintf(text, sizeof text, "%d", rate);
    return digest_text(digest, text);
}

static const char *found(const struct entry *e, size_t *size)
{
    *size = (size_t)e->head.size;
    return e->bytes;
}

const char *night_memory_find(const struct night_memory *m, uint64_t content, uint64_t ground, size_t *size)
{
    for (size_t i = 0; i < m->count; i++)
        if (m->entries[i].head.content == content && m->entries[i].head.ground == ground)
            return found(&m->entries[i], size);
    return NULL;
}

const char *night_memory_any(const struct night_memory *m, uint64_t content, size_t *size)
{
    for (size_t i = 0; i < m->count; i++)
        if (m->entries[i].head.content == content) return found(&m->entries[i], size);
    return NULL;
}

void night_memory_add(struct night_memory *m, uint64_t content, uint64_t ground, char *bytes, size_t size)
{
    struct entry *e = bytes ? add_entry(m) : NULL;
    if (!e) {
        free(bytes);
        return;
    }
    *e = (struct entry){ { content, ground, size, digest_bytes(content ^ ground, bytes, size) }, bytes, true };
}

static void put_entry(FILE *out, const struct entry *e, size_t *left)
{
    size_t size = sizeof e->head + (size_t)e->head.size;
    if (size > *left) return;
    *left -= size;
    fwrite(&e->head, sizeof e->head, 1, out);
    fwrite(e->bytes, 1, (size_t)e->head.size, out);
}

void night_memory_write(struct night_memory *m)
{
    struct outfile *file;
    struct tc_problem why;
    size_t left = BYTES_MOST - sizeof form;
    if (m->count == m->read_count || outfile_open(&file, m->path, true, &why) != TC_OK) return;
    FILE *out = outfile_stream(file);
    fputs(form, out);
    for (size_t i = m->read_count; i < m->count; i++) put_entry(out, &m->entries[i], &left);
    for (size_t i = 0; i < m->read_count; i++) put_entry(out, &m->entries[i], &left);
    outfile_commit(file, &why);
}

void night_memory_close(struct night_memory *m)
{
    if (!m) return;
    for (size_t i = 0; i < m->count; i++)
        if (m->entries[i].own) free(m->entries[i].bytes);
    free(m->entries);
    free(m->text);
    free(m->path);
    free(m);
}
