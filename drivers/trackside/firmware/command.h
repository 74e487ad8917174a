// The host's lines: acted on as they come, each answered.
#pragma once

#include <stdbool.h>

/// Acts on the oldest line of the host once its predecessor's answer was written; whether there was one.
bool command_take(void);

/// Writes the answer that is due; whether there was one.
bool command_write_answer(void);
