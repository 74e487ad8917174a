// What a restore writes, at a simulated decoder: pages of indexed CVs behind CV31 and CV32 (RCN-225), and the address.
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>
#include <functional>

#include "daemon/restore.h"
#include "drivers/simulated/simulated_rig.h"
#include "drivers/virtual_clock.h"

namespace lapwright {
namespace {

namespace asio = boost::asio;
using RestoreWork = std::function<asio::awaitable<void>(simulated::SimulatedRig&, CvLedger&)>;

class Unwatched final : public TuneObserver {
  void phase(const std::string&) override {}
  void pass(int, Direction, double) override {}
  void settled(const CellResult&) override {}
  void progress(int, int) override {}
};

struct RestoreBench {
  explicit RestoreBench(bool talks = false) {
    engine.decoder.answers_reads = talks;
    engine.decoder.pages = {{16, 1}};
  }
  void play(const RestoreWork& work) {
    VirtualClock clock;
    rig = std::make_unique<simulated::SimulatedRig>(simulated::RailwayDescription(), engine, clock, 5);
    asio::io_context context;
    std::exception_ptr failure;
    const auto done = [&](const std::exception_ptr& thrown) {
      failure = thrown;
      rig->stop();
    };
    const auto ended = [](const std::exception_ptr&) {};
    asio::co_spawn(context, rig->run(), ended);
    asio::co_spawn(context, work(*rig, ledger), done);
    BOOST_TEST((clock.run(context, seconds(3600)) == VirtualClock::Outcome::finished));
    if (failure) std::rethrow_exception(failure);
  }
  void write(const WantedCvs& wanted) {
    play([&](simulated::SimulatedRig& at, CvLedger& with) -> asio::awaitable<void> {
      doubtful = co_await write_wanted(at, wanted, false, with, observer);
    });
  }
  void address(const EngineRecord& record) {
    play([&](simulated::SimulatedRig& at, CvLedger& with) -> asio::awaitable<void> {
      const WantedCvs nothing;
      co_await write_address(at, record, nothing, with);
    });
  }
  [[nodiscard]] int held(int number) const { return rig->decoder().cv(number); }
  [[nodiscard]] int on_page(int high, int low, int number) const {
    rig->decoder().set_cv(31, static_cast<std::uint8_t>(high));
    rig->decoder().set_cv(32, static_cast<std::uint8_t>(low));
    return rig->decoder().cv(number);
  }

  simulated::EngineDescription engine;
  Unwatched observer;
  std::vector<std::string> doubtful;
  CvLedger ledger;
  std::unique_ptr<simulated::SimulatedRig> rig;
};

struct TalkingRestoreBench : RestoreBench {
  TalkingRestoreBench() : RestoreBench(true) {}
};

EngineRecord of_long_address(int address) {
  EngineRecord record;
  record.address = address;
  record.long_address = true;
  return record;
}

WantedCvs with_page(std::uint8_t high, std::uint8_t low) {
  WantedCvs wanted;
  wanted.plain = {{3, 9}};
  wanted.pages = {{high, low, {{257, 4}, {300, 7}, {512, 255}}}};
  return wanted;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(restore_writes)

BOOST_FIXTURE_TEST_CASE(indexed_cvs_stand_on_their_page, RestoreBench) {
  write(with_page(16, 1));
  BOOST_TEST(held(3) == 9);
  BOOST_TEST(held(31) == 0);  // and the index points at page 0/0 again
  BOOST_TEST(held(32) == 0);
  BOOST_TEST(held(257) == 0);
  BOOST_TEST(on_page(16, 1, 257) == 4);
  BOOST_TEST(on_page(16, 1, 300) == 7);
  BOOST_TEST(on_page(16, 1, 512) == 255);
  BOOST_TEST(on_page(16, 1, 258) == 0);
}

BOOST_FIXTURE_TEST_CASE(a_decoder_that_answers_confirms_them, TalkingRestoreBench) {
  write(with_page(16, 1));
  BOOST_TEST(doubtful.empty());
  BOOST_TEST(on_page(16, 1, 300) == 7);
}

BOOST_FIXTURE_TEST_CASE(a_page_that_it_does_not_have_is_told, TalkingRestoreBench) {
  write(with_page(17, 0));
  BOOST_REQUIRE(doubtful.size() == 3U);
  BOOST_TEST(doubtful.front() == "CV257 of page 17/0");
}

// S-9.2.1 l. 103-110: 1042 = 4 × 256 + 18, so that CV17 = 192 + 4. S-9.2.2, CV29 bit 5.
BOOST_FIXTURE_TEST_CASE(the_pair_first_and_then_the_bit, RestoreBench) {
  address(of_long_address(1042));
  BOOST_TEST(held(17) == 196);
  BOOST_TEST(held(18) == 18);
  BOOST_TEST((held(29) & 0x20) == 0x20);
}

BOOST_FIXTURE_TEST_CASE(a_pair_that_is_not_taken_calls_the_decoder_to_no_other_address, TalkingRestoreBench) {
  engine.decoder.address_writes = false;
  address(of_long_address(1042));
  BOOST_TEST(held(17) == 195);  // RCN-225: 1000, as it came
  BOOST_TEST((held(29) & 0x20) == 0);
  BOOST_TEST(ledger.memory().written.count(29) == 0U);
}

BOOST_FIXTURE_TEST_CASE(a_short_address_that_is_not_taken, RestoreBench) {
  engine.decoder.address_writes = false;
  EngineRecord record;
  record.address = 42;
  address(record);
  BOOST_TEST(held(1) == 3);
  engine.decoder.address_writes = true;
  ledger = {};
  address(record);
  BOOST_TEST(held(1) == 42);
}

BOOST_FIXTURE_TEST_CASE(a_factory_reset_takes_the_pages_with_it, RestoreBench) {
  write(with_page(16, 1));
  rig->decoder().set_cv(8, 8);  // S-9.2.3 l. 279-291, on the programming track
  BOOST_TEST(held(3) == 3);
  BOOST_TEST(on_page(16, 1, 257) == 0);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
