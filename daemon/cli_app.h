// The command-line library's type by its name alone: its headers take seconds to compile.
#pragma once

namespace CLI {  // NOLINT(readability-identifier-naming): named by the library
class App;
}
