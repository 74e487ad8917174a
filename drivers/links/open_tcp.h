// Opens a TCP connection as a stream of bytes.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>

#include "drivers/links/link_address.h"
#include "tuning/clock.h"

namespace lapwright {

/// Small messages go out at once, and a peer that is gone without a word is noticed by the kernel within about ten
/// seconds. @throws LinkDown, also when the peer does not answer within `limit`
[[nodiscard]] boost::asio::awaitable<boost::asio::posix::stream_descriptor> open_tcp(TcpAddress address,
                                                                                     Duration limit);

}  // namespace lapwright
