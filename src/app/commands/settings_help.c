#include "app/commands/settings_help.h"

#include <string.h>

void help_row(FILE *out, const char *head, const char *text)
{
    bool wide = strlen(head) > HELP_COLUMN;
    if (wide) fprintf(out, "  %s\n", head);
    fprintf(out, "  %-*s %s\n", HELP_COLUMN, wide ? "" : head, text);
}

void settings_help(FILE *out, enum setting_topic topic, unsigned use)
{
    struct tc_settings presets = tc_settings_default();
    bool titled = false;
    for (size_t i = 0; i < setting_count(); i++) {
        const struct setting *row = setting_at(i);
        if (row->topic != topic || !(row->use & use)) continue;
        if (!titled) fprintf(out, "\n%s\n", setting_topic_title(topic));
        titled = true;
        char head[64], bounds[128], value[32];
        setting_bounds(row, bounds, sizeof bounds);
        snprintf(head, sizeof head, "--%s%s", row->name, row->type == SETTING_SWITCH ? "" : " X");
        help_row(out, head, row->help);
        if (row->type != SETTING_SWITCH)
            fprintf(out, "  %-*s   %s; default %s\n", HELP_COLUMN, "", bounds,
                    setting_value(row, &presets, value, sizeof value));
    }
}

void settings_man(FILE *out)
{
    struct tc_settings presets = tc_settings_default();
    for (int topic = 0; topic < TOPIC_COUNT; topic++) {
        fprintf(out, ".SS %s\n", setting_topic_title((enum setting_topic)topic));
        for (size_t i = 0; i < setting_count(); i++) {
            const struct setting *row = setting_at(i);
            if ((int)row->topic != topic) continue;
            char bounds[128], value[32];
            setting_bounds(row, bounds, sizeof bounds);
            fprintf(out, ".TP\n.BR \\-\\-%s%s\n%s.\n", row->name,
                    row->type == SETTING_SWITCH ? "" : " \" X\"", row->help);
            if (row->type != SETTING_SWITCH)
                fprintf(out, "(%s; default %s)\n", bounds, setting_value(row, &presets, value, sizeof value));
        }
    }
}

void settings_markdown(FILE *out)
{
    struct tc_settings presets = tc_settings_default();
    fputs("| option | default | range | meaning |\n|---|---|---|---|\n", out);
    for (size_t i = 0; i < setting_count(); i++) {
        const struct setting *row = setting_at(i);
        char bounds[128], value[32];
        setting_bounds(row, bounds, sizeof bounds);
        for (char *bar; (bar = strchr(bounds, '|'));) *bar = '/'; /* no column of its own */
        bool lone = row->type == SETTING_SWITCH; /* on the command line it takes no value */
        fprintf(out, "| `--%s` | %s | %s | %s |\n", row->name,
                setting_value(row, &presets, value, sizeof value), lone ? "on if given" : bounds, row->help);
    }
}
