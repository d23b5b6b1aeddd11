#include "app/report/listings.h"

#include "io/network/interface.h"
#include "io/sound/sound_card.h"
#include "words/text.h"

struct listing {
    FILE *out;
    int count;
};

static void print_card(void *user, const struct sound_card_info *c)
{
    struct listing *l = user;
    char name[200], system[80];
    if (!l->count++) fputs("number  channels      rate  name\n", l->out);
    fprintf(l->out, "%6d  %8d  %8.0f  %s (%s)%s\n", c->number, c->channels, c->rate,
            text_plain(name, sizeof name, c->name),
           text_plain(system, sizeof system, c->system), c->usual ? ", the usual one" : "");
}

enum tc_status listing_sound_cards(FILE *out, struct tc_problem *why)
{
    struct listing l = { .out = out };
    enum tc_status status = sound_card_list(print_card, &l, why);
    if (status == TC_OK && !l.count) fputs("no sound card was found; --no-sound plays without one\n", out);
    return status;
}

static void print_interface(void *user, const char *name, const char *address)
{
    struct listing *l = user;
    if (!l->count++) fputs("name              address\n", l->out);
    fprintf(l->out, "%-16s  %s\n", name, address);
}

enum tc_status listing_interfaces(FILE *out, struct tc_problem *why)
{
    struct listing l = { .out = out };
    enum tc_status status = interface_list(print_interface, &l, why);
    if (status == TC_OK && !l.count) fputs("no network interface has an IPv4 address\n", out);
    return status;
}
