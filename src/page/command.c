#include "page/command.h"

#include <string.h>

#include "words/settings.h"
#include "words/sink.h"

static void quote_word(struct writer *w, const char *word)
{
    bool plain = *word != 0;
    for (const char *c = word; *c && plain; c++)
        plain = (*c >= 'a' && *c <= 'z') || (*c >= 'A' && *c <= 'Z') || (*c >= '0' && *c <= '9')
                || strchr("-_./+,:@", *c);
    if (plain) {
        writer_text(w, word);
        return;
    }
    writer_text(w, "'");
    for (; *word; word++)
        if (*word == '\'') writer_text(w, "'\\''");
        else writer_bytes(w, word, 1);
    writer_text(w, "'");
}

static void put_words(struct writer *w, const char *const *words)
{
    for (; *words; words++) {
        writer_text(w, " ");
        quote_word(w, *words);
    }
}

enum tc_status page_command_write(struct tc_sink to, const char *const *words, const char *rig, const struct tc_settings *s)
{
    struct tc_settings presets = tc_settings_default();
    struct writer w;
    writer_begin(&w, to);
    writer_text(&w, "thundercue");
    put_words(&w, words);
    put_words(&w, (const char *const[]){ rig ? "--rig" : NULL, rig, NULL });
    for (size_t i = 0; i < setting_count(); i++) {
        char value[32], preset[32];
        const struct setting *row = setting_at(i);
        setting_value(row, s, value, sizeof value);
        if (!strcmp(value, setting_value(row, &presets, preset, sizeof preset))) continue;
        if (row->type == SETTING_SWITCH) writer_format(&w, " --%s", row->name);
        else writer_format(&w, " --%s %s", row->name, value);
    }
    return writer_end(&w);
}
