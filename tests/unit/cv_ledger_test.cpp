// The ledger: no needless write, three tries, debts that outlive every end.
#include "tuning/cv_ledger.h"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>

#include "tests/unit/fake_rig.h"
#include "tests/unit/run_here.h"
#include "tuning/cv.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace {

namespace asio = boost::asio;
using Writes = std::vector<std::pair<int, int>>;

struct Desk {
  VirtualClock clock;
  asio::io_context context{1};
  FakeRig rig{clock};
  CvLedger ledger;

  void write(int cv, std::uint8_t value) { run_here(clock, context, ledger.write(rig, cv, value)); }
  void lend(int cv, std::uint8_t value, std::uint8_t original) {
    run_here(clock, context, ledger.lend(rig, cv, value, original));
  }
  void settle() { run_here(clock, context, ledger.settle(rig)); }
  /// Begins a lend and cancels it while the station is still sending; the decoder has taken the value already.
  void lend_and_cancel(int cv, std::uint8_t value, std::uint8_t original) {
    rig.write_s = 0.5;
    asio::cancellation_signal cancel;
    context.restart();
    asio::co_spawn(context, ledger.lend(rig, cv, value, original),
                   asio::bind_cancellation_slot(cancel.slot(), [](const std::exception_ptr&) {}));
    clock.run(context, std::chrono::milliseconds(100));
    cancel.emit(asio::cancellation_type::terminal);
    clock.run(context, std::chrono::milliseconds(100));
    rig.write_s = 0;
  }
};

}  // namespace

BOOST_AUTO_TEST_SUITE(cv_ledger)

BOOST_AUTO_TEST_CASE(a_known_value_is_not_written_again) {
  Desk desk;
  desk.write(67, 20);
  desk.write(67, 20);
  BOOST_TEST((desk.rig.writes == Writes{{67, 20}}));
  desk.write(67, 21);
  desk.write(67, 20);
  BOOST_TEST((desk.rig.writes == Writes{{67, 20}, {67, 21}, {67, 20}}));
  BOOST_TEST(desk.ledger.writes() == 3);
  BOOST_TEST((desk.ledger.known(67) == 20));
}

BOOST_AUTO_TEST_CASE(a_value_found_by_reading_is_known_until_it_is_overwritten) {
  Desk desk;
  desk.ledger.found(3, 12);
  desk.write(3, 12);
  BOOST_TEST(desk.rig.writes.empty());
  desk.write(3, 0);
  BOOST_TEST((desk.ledger.known(3) == 0));
  desk.write(3, 12);
  BOOST_TEST((desk.rig.writes == Writes{{3, 0}, {3, 12}}));
}

BOOST_AUTO_TEST_CASE(three_tries_and_then_refused) {
  Desk desk;
  int refusals = 2;
  desk.rig.answers = [&](int, std::uint8_t) {
    return refusals-- > 0 ? CvWriteReply::refused : CvWriteReply::confirmed;
  };
  desk.write(67, 20);
  BOOST_TEST(desk.rig.writes.size() == 3u);
  BOOST_TEST((desk.ledger.known(67) == 20));

  refusals = 3;
  BOOST_CHECK_EXCEPTION(desk.write(68, 30), CvRefused, [](const CvRefused& refused) {
    return std::string(refused.what()).find("CV68") != std::string::npos;
  });
  BOOST_TEST(desk.rig.writes.size() == 6u);
  BOOST_TEST(!desk.ledger.known(68).has_value());
}

BOOST_AUTO_TEST_CASE(lent_values_are_owed_and_settled_once) {
  Desk desk;
  desk.lend(3, 0, 28);
  desk.lend(4, 0, 20);
  BOOST_TEST(desk.ledger.owed().size() == 2u);
  desk.settle();
  BOOST_TEST(desk.ledger.owed().empty());
  BOOST_TEST((desk.rig.writes == Writes{{3, 0}, {4, 0}, {3, 28}, {4, 20}}));
  desk.settle();
  BOOST_TEST(desk.rig.writes.size() == 4u);
}

BOOST_AUTO_TEST_CASE(the_first_original_stays_owed) {
  Desk desk;
  desk.lend(3, 0, 28);
  desk.lend(3, 5, 0);  // a second loan is not the original
  BOOST_TEST(int{desk.ledger.owed().at(3)} == 28);
  desk.lend(4, 20, 20);  // nothing changes: nothing is owed
  BOOST_TEST(!desk.ledger.owed().contains(4));
}

BOOST_AUTO_TEST_CASE(debts_stay_when_settling_fails_and_can_be_paid_later) {
  Desk desk;
  desk.lend(3, 0, 28);
  desk.lend(4, 0, 20);
  bool dead = true;
  desk.rig.answers = [&](int cv, std::uint8_t) {
    if (dead && cv == 4) throw RigFault("no track power");
    return CvWriteReply::silent;
  };
  BOOST_CHECK_THROW(desk.settle(), RigFault);
  BOOST_TEST(desk.ledger.owed().size() == 1u);
  BOOST_TEST(desk.ledger.owed().contains(4));
  dead = false;
  desk.settle();
  BOOST_TEST(desk.ledger.owed().empty());
  BOOST_TEST(int{desk.rig.cvs[3]} == 28);
  BOOST_TEST(int{desk.rig.cvs[4]} == 20);
}

BOOST_AUTO_TEST_CASE(a_write_that_failed_leaves_the_value_unknown) {
  Desk desk;
  desk.write(67, 20);
  desk.rig.answers = [](int, std::uint8_t) -> CvWriteReply { throw RigFault("no track power"); };
  BOOST_CHECK_THROW(desk.write(67, 30), RigFault);
  BOOST_TEST(!desk.ledger.known(67).has_value());
}

BOOST_AUTO_TEST_CASE(a_cancelled_loan_is_paid_back) {
  Desk desk;
  desk.lend_and_cancel(3, 0, 28);
  BOOST_TEST(int{desk.rig.cvs[3]} == 0);
  desk.settle();
  BOOST_TEST(int{desk.rig.cvs[3]} == 28);
}

BOOST_AUTO_TEST_CASE(a_cancelled_loan_of_a_value_that_was_read_is_paid_back) {
  Desk desk;
  desk.ledger.found(3, 28);
  desk.lend_and_cancel(3, 0, 28);
  BOOST_TEST(int{desk.rig.cvs[3]} == 0);
  BOOST_TEST(!desk.ledger.known(3).has_value());  // the write may have been taken, or not
  desk.settle();
  BOOST_TEST(int{desk.rig.cvs[3]} == 28);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
