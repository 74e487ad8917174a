#include "daemon/restore.h"

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

asio::awaitable<void> write_page(Rig& rig, const IndexedPage& page, CvLedger& ledger) {
  ledger.forget_indexed();
  co_await ledger.write(rig, cv::index_high, page.high);
  co_await ledger.write(rig, cv::index_low, page.low);
  for (const auto& [number, value] : page.cvs) co_await ledger.write(rig, number, value);
}

}  // namespace

asio::awaitable<void> write_wanted(Rig& rig, const WantedCvs& wanted, bool at_long_address, CvLedger& ledger,
                                   TuneObserver& observer) {
  observer.phase("writing what the decoder is to hold");
  for (const auto& [number, value] : wanted.plain) {
    const std::uint8_t fitting = number == cv::configuration ? cv::with_address_bit(value, at_long_address) : value;
    co_await ledger.write(rig, number, fitting);
  }
  if (wanted.table && !wanted.plain.contains(cv::configuration)) {
    co_await ledger.set_bit(rig, cv::configuration, cv::table_bit);
  }
  for (const IndexedPage& page : wanted.pages) co_await write_page(rig, page, ledger);
  if (wanted.pages.empty()) co_return;
  ledger.forget_indexed();
  co_await ledger.write(rig, cv::index_high, 0);
  co_await ledger.write(rig, cv::index_low, 0);
}

asio::awaitable<void> write_address(Rig& rig, const EngineRecord& record, const WantedCvs& wanted, CvLedger& ledger) {
  if (!record.long_address) {
    // A new CV1 comes into force at once, and clears bit 5 of CV29 (S-9.2.3 l. 143-145; a maker may leave that out).
    co_await write_unanswered(rig, ledger, cv::address, static_cast<std::uint8_t>(record.address));
    co_return;
  }
  // The pair first; CV29 bit 5 brings it into force (S-9.2.1: CV17 waits for CV18).
  const dcc::LongAddressCvs pair = dcc::to_cv17_18(record.address);
  co_await ledger.write(rig, cv::long_address_high, pair.cv17);
  co_await ledger.write(rig, cv::long_address_low, pair.cv18);
  const auto stated = wanted.plain.find(cv::configuration);
  if (stated == wanted.plain.end()) {
    co_await ledger.set_bit(rig, cv::configuration, cv::address_bit);
  } else {
    const std::uint8_t value = cv::with_address_bit(stated->second, true);
    co_await write_unanswered(rig, ledger, cv::configuration, value);
  }
}

}  // namespace lapwright
