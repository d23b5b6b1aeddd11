#include "io/process/terminal.h"

#include <fcntl.h>
#include <poll.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

struct terminal {
    int out;                 /* an opening of our own, so that not waiting is ours alone; -1 = none */
    bool keys;
};

/* The keyboard as it was, for a signal handler: there is one standard input. */
static struct {
    struct termios before;
    atomic_bool taken;
} keyboard;

struct terminal *terminal_open(bool keys)
{
    struct terminal *t = calloc(1, sizeof *t);
    char name[256];
    if (!t) return NULL;
    t->out = isatty(STDERR_FILENO) && !ttyname_r(STDERR_FILENO, name, sizeof name)
           ? open(name, O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC) : -1;
    if (!keys || !isatty(STDIN_FILENO) || tcgetattr(STDIN_FILENO, &keyboard.before)) return t;
    struct termios raw = keyboard.before;
    raw.c_lflag &= (tcflag_t)~(ICANON | ECHO); /* Ctrl-C stays what it is */
    keyboard.taken = true;
    t->keys = !tcsetattr(STDIN_FILENO, TCSANOW, &raw);
    return t;
}

bool terminal_shows(const struct terminal *t)
{
    return t->out >= 0;
}

bool terminal_has_keys(const struct terminal *t)
{
    return t->keys;
}

void terminal_line(struct terminal *t, const char *text)
{
    char line[400];
    if (t->out < 0) return;
    int n = snprintf(line, sizeof line, "\r%s\033[K", text);
    if (n > 0 && write(t->out, line, (size_t)n) < 0) return; /* full: the next one may fit */
}

int terminal_key(struct terminal *t)
{
    struct pollfd in = { .fd = STDIN_FILENO, .events = POLLIN };
    unsigned char key = 0;
    if (!t->keys || poll(&in, 1, 0) <= 0 || read(STDIN_FILENO, &key, 1) != 1) return 0;
    return key;
}

void terminal_rescue(void)
{
    if (keyboard.taken && tcgetpgrp(STDIN_FILENO) == getpgrp()) tcsetattr(STDIN_FILENO, TCSANOW, &keyboard.before);
}

void terminal_close(struct terminal *t)
{
    if (!t) return;
    terminal_line(t, "");
    if (t->keys) tcsetattr(STDIN_FILENO, TCSANOW, &keyboard.before);
    keyboard.taken = false;
    if (t->out >= 0) close(t->out);
    free(t);
}
