#include "app/report/cautions.h"

#include <stdbool.h>
#include <string.h>

#include "app/report/text_width.h"

static const char *const texts[CAUTION_COUNT] = {
    [CAUTION_FLASHING] =
        "Flashing light can trigger seizures. Put up a notice where visitors still have a choice, keep "
        "some steady light on and aim floods away from faces; a limit on flashes lowers the risk, it does "
        "not make flashing safe for everybody.",
    [CAUTION_LIMIT_OFF] =
        "The flash limit is off: this timeline may flash as fast as real lightning, in the range that is "
        "worst for photosensitive people.",
    [CAUTION_WIRING] =
        "Local code and a licensed electrician decide on the wiring; the labels of the products count "
        "before any sum made here, and the weakest link of a chain governs it.",
    [CAUTION_CONTINUOUS] =
        "A load that may last 3 hours or more counts at 125 %, so that it fills 80 % of its breaker at the very "
        "most (NEC 210.19(A)(1) and 210.20(A)). Flashing lowers the average, but nameplates are what counts.",
    [CAUTION_DRIVERS] =
        "Amperes here are watts divided by volts. LED drivers on a dimmer can draw up to twice that "
        "(power factor 0.5 to 0.9, common practice): where the label tells amperes or VA, count those.",
    [CAUTION_OUTDOORS] =
        "Outdoors use parts that are listed for wet places, covers that close while in use, and a GFCI or "
        "30 mA RCD ahead of everything that people can touch (common practice).",
    [CAUTION_STRINGS] =
        "The tag of a light string says how many may be joined end to end, and it governs; decorative "
        "strings are made for a season, up to 90 days (UL 588), not to stay.",
    [CAUTION_CORDS] =
        "Plug and outlet may be rated below their cord. Heat, coils and bundles lower what a cord can "
        "carry: lay it out whole, off the ground where water stands.",
    [CAUTION_LED_DIMMING] =
        "Dim only lamps whose label allows it, and go by the dimmer's rating for LED, not for filament "
        "lamps. LED loads often stay dark at low levels, and one string may be less than a dimmer's least "
        "load: try each channel, and enter the level at which it first lights as min_level.",
    [CAUTION_LED_SLOW] =
        "Some LED floods start softly or hold on after they are switched off: measure yours and enter "
        "rise_ms, fall_ms and lead_ms.",
    [CAUTION_FILAMENT] =
        "Filament lamps are slow, so gaps under 100 ms blur, and a cold one draws about 14 times its "
        "current for a moment: count on it where many start at once.",
    [CAUTION_LINE] =
        "A qualified rigger decides on what hangs over people: anchors, trees and poles, wind, ice, wet "
        "strings, jerks and a second line for safety are not in these sums. More sag is less pull.",
    [CAUTION_LIVE] =
        "Lamps will light by themselves. Try a new rig with one person watching and someone at the breaker, "
        "and nobody on a ladder or at the wires.",
    [CAUTION_POWER_LINES] =
        "Keep ropes, ladders and poles well away from overhead power lines. 29 CFR 1926.1408, Table A, written "
        "for workplaces, asks for 10 ft up to 50 kV and for more above.",
};

const char *caution_text(enum caution which)
{
    return (unsigned)which < CAUTION_COUNT ? texts[which] : "";
}

void caution_wrap(FILE *out, const char *text, const char *first, const char *rest, size_t width)
{
    size_t column = text_columns(first);
    fputs(first, out);
    for (bool begun = false; *text; begun = true) {
        size_t n = strcspn(text, " ");
        char word[256];
        snprintf(word, sizeof word, "%.*s", (int)n, text);
        size_t columns = text_columns(word);
        if (begun && column + 1 + columns > width) {
            fprintf(out, "\n%s", rest);
            column = text_columns(rest);
        } else if (begun) {
            putc(' ', out);
            column++;
        }
        fwrite(text, 1, n, out);
        column += columns;
        text += n;
        text += strspn(text, " ");
    }
    putc('\n', out);
}

const char *visitor_notice(void)
{
    return "NOTICE: FLASHING LIGHT AND SUDDEN LOUD SOUND\n"
           "\n"
           "This show has a storm in it: bright flashes of light, a few at a time, and thunder.\n"
           "Flashing light can be harmful to people with photosensitive epilepsy and unpleasant\n"
           "for others. If that may concern you or somebody with you, please tell our staff\n"
           "before you go in. They know when the storm comes and where it can't be seen.\n";
}
