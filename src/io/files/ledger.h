/* What thundercue wrote into a folder, to tell the user's edits from it.
 *
 * A hidden file `.thundercue` in the folder holds the digest of every output:
 * a line "writes DIGEST NAME" before a file gets its name, and "wrote DIGEST
 * NAME" after it, so that a kill between the two leaves both contents known.
 * It moves with its folder; where it is lost, files count as unknown, which is
 * as good as edited. */
#ifndef TC_LEDGER_H
#define TC_LEDGER_H

#include <stdint.h>

#include "thundercue.h"

#define LEDGER_NAME ".thundercue"

struct ledger;

/* What can be said of a file that is there. */
enum ledger_word { LEDGER_ABSENT, LEDGER_OURS, LEDGER_EDITED, LEDGER_UNKNOWN };

/* What may be replaced: nothing, what is as thundercue wrote it, anything. */
enum ledger_over { OVER_NOTHING, OVER_OURS, OVER_EDITS };

/* Reads a folder's ledger; that it is missing is fine. TC_ERR_WRITE if
 * something else has its name, TC_ERR_MEMORY. */
enum tc_status ledger_open(struct ledger **out, const char *folder, struct tc_problem *why);

/* The same, made if missing, and held against others until it is closed:
 * for the moment in which a run's files get their names. TC_ERR_WRITE. */
enum tc_status ledger_hold(struct ledger **out, const char *folder, struct tc_problem *why);

/* Compares the file with what was written under its name (which may have a
 * folder before it). */
enum ledger_word ledger_look(const struct ledger *l, const char *path);

/* TC_OK if the file may be replaced, else TC_ERR_EXISTS with *why. */
enum tc_status ledger_check(const struct ledger *l, const char *path, enum ledger_over over, struct tc_problem *why);

/* Takes note, in a held ledger, that a file is about to have this content; or
 * that it has it; ledger_settle returns when all notes are on the disk. TC_ERR_WRITE. */
enum tc_status ledger_note(struct ledger *l, const char *path, uint64_t digest, struct tc_problem *why);
enum tc_status ledger_settle(struct ledger *l, struct tc_problem *why);
void ledger_noted(struct ledger *l, const char *path, uint64_t digest);

/* NULL is fine. */
void ledger_close(struct ledger *l);

/* Writes it anew, a line a file that is still there, by name. */
void ledger_tidy(const char *folder);

#endif
