/* The settings table (words/settings.h) for people: plain for --help, man page
 * source, Markdown. */
#ifndef TC_SETTINGS_HELP_H
#define TC_SETTINGS_HELP_H

#include <stdio.h>

#include "words/settings.h"

void settings_help(FILE *out, enum setting_topic topic, unsigned use); /* under the topic's title; nothing if none is for that use */
void settings_man(FILE *out);
void settings_markdown(FILE *out); /* the README's table */

#endif
