/* Sees to it that a live show ends dark, whatever ends it.
 *
 * While the program can act, it does so itself: Ctrl-C, SIGTERM and SIGHUP ask
 * for the end; a second one, and the signals of a crash in any thread, send
 * black and the terminated packets at once. For all else there is the keeper, a
 * small process that has inherited the network. It sends the same where the
 * program is gone without having done so (killed outright, or ended by a
 * library), and where the program's heart has not beaten for 0.2 s (stuck,
 * stopped, spinning): black until the heart beats again.
 *
 * What is left: both processes killed or stopped, no power, no network.
 * Receivers then notice by themselves that data is lost, after 2.5 s by the
 * standard. */
#ifndef TC_LIGHT_GUARD_H
#define TC_LIGHT_GUARD_H

#include "io/network/light_net.h"

/* Guards a network that has sent nothing yet; one at a time, and before any
 * thread is started. `last` (may be NULL) is called in the handler of a signal that
 * ends the program, and by the keeper where the program was killed. SIGTSTP
 * (Ctrl-Z) is ignored from now on: a stopped program is a dark one. TC_ERR_WRITE
 * where there can't be a keeper. */
enum tc_status light_guard_begin(struct light_net *n, void (*last)(void), struct tc_problem *why);

/* The heart of the program: to be called all the time, once it was called
 * first. True if the keeper has sent black meanwhile. */
bool light_guard_beat(double now_s);

/* The signal that asked for the end; 0 = none. */
int light_guard_signal(void);

/* After light_net_end: the keeper goes. Fine if there is none. */
void light_guard_end(void);

#endif
