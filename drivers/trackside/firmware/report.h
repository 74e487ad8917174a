// What the board says by itself: hello and settings, state, edges. Each call writes one line at most.
#pragma once

#include <stdbool.h>

/// Hello and settings are to follow, line by line.
void report_hello(void);

/// The one line that is most urgent now, if there is room; whether one was written. The host's answers come after
/// state lines, so that a host that asks without pause can't keep those back, and before everything else.
bool report_next(bool (*write_answer)(void));
