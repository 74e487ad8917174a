#include "daemon/put_back.h"

namespace lapwright {
namespace asio = boost::asio;

asio::awaitable<int> put_back(Rig& rig, const CvValues& before, CvLedger& ledger, TuneObserver& observer) {
  observer.phase("putting back what the decoder held");
  int written = 0;
  for (const auto& [number, value] : before) {
    if (ledger.known(number) == value) continue;
    co_await ledger.write(rig, number, value);
    ++written;
  }
  co_return written;
}

}  // namespace lapwright
