/* The settings table (words/settings.h) for people: plain for --help, man page
 * source, Markdown. */
#ifndef TC_SETTINGS_HELP_H
#define TC_SETTINGS_HELP_H

#include <stdio.h>

#include "words/settings.h"

/* A line of --help: what is typed, and what it does; on the next line where the
 * column for the first is too narrow. */
enum { HELP_COLUMN = 20 };
void help_row(FILE *out, const char *head, const char *text);

/* Under the topic's title; nothing if none is for that use. */
void settings_help(FILE *out, enum setting_topic topic, unsigned use);
void settings_man(FILE *out);
void settings_markdown(FILE *out); /* the README's table */

#endif
