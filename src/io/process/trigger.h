/* What starts a show: a key, a datagram, a file that appears or is touched. */
#ifndef TC_TRIGGER_H
#define TC_TRIGGER_H

#include "io/process/terminal.h"
#include "words/model.h"

struct trigger;

/* "key", "udp:PORT" (any datagram to that port), "udp:ADDRESS:PORT" or
 * "file:PATH" (the file appears, or is touched once more; it is only looked
 * at). TC_ERR_USAGE, TC_ERR_MEMORY. The terminal is borrowed. */
enum tc_status trigger_open(struct trigger **out, const char *form, struct terminal *keys, struct tc_problem *why);
/* True if it was pulled since the last question; several pulls count once. */
bool trigger_pulled(struct trigger *t);
void trigger_close(struct trigger *t);

#endif
