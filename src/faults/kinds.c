/* The table of fault words. */
#include "faults/kinds.h"
#include <string.h>

static const struct fault_kind_row rows[N_FAULT_KINDS] = {
    [FAULT_BLOCK] = {"block", "block ID\nblock VALVE.PORT",
                     "no oil passes a joint, screen, plate hole, solenoid or port of a valve",
                     "a joint, screen, plate hole, solenoid or valve with ports"},
    [FAULT_LEAK] = {"leak", "leak HOLE [at 0.5 mm]\nleak A into B [at 0.5 mm]\nleak ACTUATOR [at 0.5 mm]",
                    "oil crosses between two passages, out of a hole into its neighbour, or past a device's seal",
                    "a plate hole with `leaks_to`, or a device"},
    [FAULT_RESIZE] = {"resize", "resize HOLE to 1.4 mm", "a plate hole has another diameter", "a plate hole"},
    [FAULT_LOSE] = {"lose", "lose BALL", "a check ball was left out or is gone", "a check ball"},
    [FAULT_SEAT] = {"seat", "seat BALL [on HOLE]", "a check ball is stuck on its seat", "a check ball"},
    [FAULT_UNSEAT] = {"unseat", "unseat BALL [on HOLE] [at 0.5 mm]", "a worn seat leaks back past its ball",
                      "a check ball"},
    [FAULT_STICK] = {"stick", "stick VALVE at POSITION\nstick SOLENOID at on\nstick SOLENOID at off",
                     "a valve or a solenoid stays where it is", "a valve or a solenoid"},
    [FAULT_WEAR] = {"wear", "wear VALVE [between P and Q] [at 0.06 mm]",
                    "a worn bore: oil crosses between neighbouring ports through a radial gap",
                    "a manual, spool or limiting valve with ports side by side"},
    [FAULT_BREAK] = {"break", "break VALVE", "a valve's spring is broken", "a valve with a spring"},
    [FAULT_UNPLUG] = {"unplug", "unplug VALVE", "a bore plug or its retainer is gone", "a valve with `plug`"},
    [FAULT_WEAKEN] = {"weaken", "weaken FEED to 8 L/min", "a source delivers less", "a source with a `capacity`"},
    [FAULT_MISADJUST] = {"misadjust", "misadjust MANUAL between D and R", "a manual valve stands between two detents",
                         "a manual valve with two detents"},
};

const struct fault_kind_row *fault_kind_row(enum fault_kind kind)
{
    return &rows[kind];
}

enum fault_kind fault_kind_find(const char *word)
{
    for (enum fault_kind kind = 0; kind < N_FAULT_KINDS; kind++)
        if (strcmp(rows[kind].word, word) == 0)
            return kind;
    return N_FAULT_KINDS;
}
