/* The commands of the program. To add one: a file cmd_NAME.c with its struct
 * command, a line here, and a line in the table of main.c. */
#ifndef TC_COMMANDS_H
#define TC_COMMANDS_H

#include "app/commands/cli.h"

extern const struct command command_cue;
extern const struct command command_listen;
extern const struct command command_batch;
extern const struct command command_tune;
extern const struct command command_check;
extern const struct command command_rig;
extern const struct command command_night;
extern const struct command command_play;
extern const struct command command_light;

#endif
