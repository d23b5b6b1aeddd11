#include "app/clip/preview.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>

#include "io/files/stream.h"
#include "page/json.h"

/* The page by lines, made from src/page/; ended by NULL. */
extern const char *const page_lines[];

/* ---- The page ---- */

enum { LINE_GROUPS = 1024 };

static enum tc_status put_sound(FILE *out, FILE *sound)
{
    unsigned char bytes[3 * LINE_GROUPS];
    char line[4 * LINE_GROUPS + 1];
    size_t count;
    while ((count = fread(bytes, 1, sizeof bytes, sound)) > 0) {
        size_t o = 0;
        for (size_t i = 0; i < count; i += 3, o += 4)
            base64_group(line + o, bytes + i, count - i < 3 ? count - i : 3);
        line[o++] = '\n';
        fwrite(line, 1, o, out);
    }
    return ferror(sound) ? TC_ERR_READ : TC_OK;
}

static enum tc_status put_data(const struct page_ramps *ramps, FILE *out, const struct page_facts *facts)
{
    enum tc_status status = page_data_write(stream_sink(out), ramps, facts);
    putc('\n', out);
    return status == TC_ERR_WRITE ? TC_OK : status; /* that stays with the stream */
}

enum tc_status preview_write(const struct page_ramps *ramps, FILE *out, const struct page_facts *facts, FILE *sound)
{
    enum tc_status status = TC_OK;
    for (const char *const *line = page_lines; *line && status == TC_OK; line++) {
        if (!strcmp(*line, "@data\n")) status = put_data(ramps, out, facts);
        else if (strcmp(*line, "@sound\n")) fputs(*line, out);
        else if (sound) status = put_sound(out, sound);
    }
    return status;
}

/* ---- The way from a page to its recording ---- */

static void escape(char *to, const char *from)
{
    for (; *from; from++) {
        unsigned char c = (unsigned char)*from;
        bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9')
                     || strchr("-._~/", c);
        if (plain) *to++ = (char)c;
        else to += sprintf(to, "%%%02X", c);
    }
    *to = 0;
}

char *preview_link_beside(const char *name)
{
    char *link = calloc(3 * strlen(name) + 3, 1);
    if (!link) return NULL;
    strcpy(link, "./");
    escape(link + 2, name);
    return link;
}

char *preview_link(const char *folder, const char *path)
{
    char *base = realpath(*folder ? folder : ".", NULL);
    char *file = realpath(path, NULL);
    char *link = NULL;
    if (!base || !file) goto done;

    /* The folders that both share, then one step up for each of the others. */
    size_t shared = 0, i = 0;
    for (; base[i] && base[i] == file[i]; i++)
        if (base[i] == '/') shared = i + 1;
    if (!base[i] && file[i] == '/') shared = i + 1;
    size_t ups = 0;
    for (const char *at = base + (shared < strlen(base) ? shared : strlen(base)); *at; at++)
        ups += *at == '/' || at == base + shared;
    const char *rest = file + shared;
    if (!(link = calloc(3 * ups + 3 * strlen(rest) + 3, 1))) goto done;
    strcpy(link, ups ? "" : "./");
    for (size_t k = 0; k < ups; k++) strcat(link, "../");
    escape(link + strlen(link), rest);
done:
    free(base);
    free(file);
    return link;
}
