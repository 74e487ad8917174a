#include "daemon/restore.h"

#include <spdlog/fmt/fmt.h>

#include "drivers/dcc/address.h"
#include "tuning/cv.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

/// A decoder that has moved to another address answers there, or not at all: silence says nothing.
asio::awaitable<void> write_unanswered(Rig& rig, CvLedger& ledger, int number, std::uint8_t value) {
  try {
    co_await ledger.write(rig, number, value);
  } catch (const CvRefused&) {
    co_return;  // what came of it shows at the new address
  }
}

/// Where it can be read, it is seen whether the decoder takes the pair; a silent one is believed.
asio::awaitable<bool> takes_pair(Rig& rig, CvLedger& ledger, dcc::LongAddressCvs pair) {
  // One by one: until CV18 has come, some read back the CV17 that is in force (S-9.2.1, note on paired CVs).
  co_await write_unanswered(rig, ledger, cv::long_address_high, pair.cv17);
  co_await write_unanswered(rig, ledger, cv::long_address_low, pair.cv18);
  const CvMemory& memory = ledger.memory();
  if (!memory.talks && memory.found.empty()) co_return true;  // it has answered nothing yet: to ask takes a second
  const std::optional<std::uint8_t> high = co_await rig.read_cv(cv::long_address_high);
  const std::optional<std::uint8_t> low = co_await rig.read_cv(cv::long_address_low);
  co_return high.value_or(pair.cv17) == pair.cv17&& low.value_or(pair.cv18) == pair.cv18;
}

/// Adds what a decoder that answers did not confirm.
asio::awaitable<void> write_page(Rig& rig, const IndexedPage& page, CvLedger& ledger,
                                 std::vector<std::string>& doubtful) {
  ledger.forget_indexed();
  co_await ledger.write(rig, cv::index_high, page.high);
  co_await ledger.write(rig, cv::index_low, page.low);
  for (const auto& [number, value] : page.cvs) {
    co_await ledger.write(rig, number, value);
    if (!ledger.memory().unconfirmed.contains(number)) continue;
    doubtful.push_back(fmt::format("CV{} of page {}/{}", number, page.high, page.low));
  }
}

}  // namespace

asio::awaitable<std::vector<std::string>> write_wanted(Rig& rig, const WantedCvs& wanted, bool at_long_address,
                                                       CvLedger& ledger, TuneObserver& observer) {
  std::vector<std::string> doubtful;
  observer.phase("writing what the decoder is to hold");
  for (const auto& [number, value] : wanted.plain) {
    const std::uint8_t fitting = number == cv::configuration ? cv::with_address_bit(value, at_long_address) : value;
    co_await ledger.write(rig, number, fitting);
    if (ledger.memory().unconfirmed.contains(number)) doubtful.push_back(fmt::format("CV{}", number));
  }
  if (wanted.table && !wanted.plain.contains(cv::configuration)) {
    co_await ledger.set_bit(rig, cv::configuration, cv::table_bit);
  }
  for (const IndexedPage& page : wanted.pages) co_await write_page(rig, page, ledger, doubtful);
  if (wanted.pages.empty()) co_return doubtful;
  ledger.forget_indexed();
  co_await ledger.write(rig, cv::index_high, 0);
  co_await ledger.write(rig, cv::index_low, 0);
  co_return doubtful;
}

asio::awaitable<void> write_address(Rig& rig, const EngineRecord& record, const WantedCvs& wanted, CvLedger& ledger) {
  if (!record.long_address) {
    // A new CV1 comes into force at once, and clears bit 5 of CV29 (S-9.2.3 l. 143-145; a maker may leave that out).
    co_await write_unanswered(rig, ledger, cv::address, static_cast<std::uint8_t>(record.address));
    co_return;
  }
  // The pair first; CV29 bit 5 brings it into force (S-9.2.1: CV17 waits for CV18).
  const dcc::LongAddressCvs pair = dcc::to_cv17_18(record.address);
  const bool taken = co_await takes_pair(rig, ledger, pair);
  if (!taken) co_return;  // bit 5 would call it to the address that it had before
  const auto stated = wanted.plain.find(cv::configuration);
  if (stated == wanted.plain.end()) {
    co_await ledger.set_bit(rig, cv::configuration, cv::address_bit);
  } else {
    const std::uint8_t value = cv::with_address_bit(stated->second, true);
    co_await write_unanswered(rig, ledger, cv::configuration, value);
  }
}

}  // namespace lapwright
