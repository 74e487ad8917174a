#include "daemon/put_back.h"

#include "tuning/cv.h"

namespace lapwright {
namespace asio = boost::asio;

asio::awaitable<int> put_back(Rig& rig, const CvValues& before, bool at_long_address, CvLedger& ledger,
                              TuneObserver& observer) {
  observer.phase("putting back what the decoder held");
  int written = 0;
  for (const auto& [number, value] : before) {
    if (cv::is_address(number)) continue;
    const std::uint8_t fitting = number == cv::configuration ? cv::with_address_bit(value, at_long_address) : value;
    if (ledger.known(number) == fitting) continue;
    co_await ledger.write(rig, number, fitting);
    ++written;
  }
  co_return written;
}

}  // namespace lapwright
