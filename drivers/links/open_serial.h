// Opens a serial device for this program alone.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>

#include "drivers/links/link_address.h"

namespace lapwright {

/// Raw, 8N1, not the controlling terminal, closed in children, not reset by closing; what had arrived before is
/// dropped. @throws LinkInUse, LinkDown
[[nodiscard]] boost::asio::posix::stream_descriptor open_serial(const boost::asio::any_io_executor& executor,
                                                                const SerialAddress& address);

/// The process that holds an flock on the open file, with its name: "4711 (lapwrightd)"; empty if it can't be told.
[[nodiscard]] std::string holder_of_lock(int descriptor);

}  // namespace lapwright
