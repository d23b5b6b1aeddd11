#include "io/files/keepsake.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "io/files/ledger.h"
#include "io/sound/container.h"
#include "words/status.h"
#include "words/text.h"

enum { LOOK_BYTES = 1 << 14 };

/* True if a line of the text begins with `word`. */
static bool has_line(const char *text, const char *word)
{
    for (const char *at = text; (at = strstr(at, word)); at++)
        if (at == text || at[-1] == '\n' || at[-1] == '\r') return true;
    return false;
}

/* What the text is by its first lines, or NULL. */
static const char *kind_of_text(const char *text, bool rig)
{
    if (!strncmp(text, "\xEF\xBB\xBF", 3)) text += 3;
    size_t head = strcspn(text, "\r\n");
    const char *start_s = strstr(text, "start_s"), *time_s = strstr(text, "time_s");
    if (*text == '{' || *text == '#') head = 0; /* a report, or settings with their first remark */
    if (start_s && start_s < text + head) return "a table of events or ramps";
    if (time_s && time_s < text + head) return "a table of light frames";
    if (!rig && (has_line(text, "[channel") || has_line(text, "[circuit"))) return "a rig";
    return NULL;
}

static const char *kind_of(const char *path, bool rig)
{
    static char const store[] = LEDGER_NAME;
    const char *slash = strrchr(path, '/');
    if (!strcmp(slash ? slash + 1 : path, store)) return "thundercue's own note of what it wrote";
    struct stat st;
    FILE *file = !stat(path, &st) && S_ISREG(st.st_mode) ? fopen(path, "rb") : NULL;
    if (!file) return NULL;
    struct container c;
    char text[LOOK_BYTES + 1];
    container_look(file, &c);
    rewind(file);
    text[fread(text, 1, LOOK_BYTES, file)] = 0;
    fclose(file);
    return c.kind != CONTAINER_UNKNOWN ? "a recording" : kind_of_text(text, rig);
}

enum tc_status keepsake_refuse(const char *path, bool rig, struct tc_problem *why)
{
    char plain[512];
    const char *kind = kind_of(path, rig);
    if (!kind) return TC_OK;
    return problem_set(why, TC_ERR_EXISTS,
                       "%s: is %s, which --force does not overwrite; choose another name, or remove it first",
                       text_plain(plain, sizeof plain, path), kind);
}
