// The program's door; everything else stands in daemon/command_line.h.
#include "daemon/command_line.h"

int main(int count, char** words) { return lapwright::run_command_line(count, words); }
