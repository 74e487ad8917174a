// What changes in the middle of an operation: aliases, ours and the train's, a restart of the station, the link, and
// people at other throttles.
#include "tests/standards/lcc_peer.h"

using namespace lapwright;
using namespace lapwright::lcc;

namespace {

const ThrottleCommand step_50{50, Direction::forward, StepMode::steps126};

struct Driven : PeerWithTrain<Driven> {
  asio::awaitable<std::string> drive() {
    std::string fault = co_await fault_of(station.drive(step_50));
    co_return fault;
  }
  [[nodiscard]] int commands_to(const std::string& alias) const {
    return static_cast<int>(std::count_if(sent.begin(), sent.end(), [&alias](const std::string& frame) {
      return frame.starts_with(":X195EBDD8N0" + alias + "00");
    }));
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(lcc_changes, Driven)

// CAN Frame Transfer Standard 6.2.3-6.2.5: state is kept by node ID; the reply comes from the train's next alias.
BOOST_AUTO_TEST_CASE(the_trains_alias_changes_during_a_read) {
  work([](Driven& peer) -> asio::awaitable<void> {
    peer.when(read_cv5,
              {acknowledged, ":X10703E7AN060100000003;", ":X10701C21N060100000003;", ":X1ADD8C21N205000000004F8FF;"});
    const std::string value = co_await peer.read(5);
    BOOST_TEST(value == "255");
    BOOST_TEST(peer.sent.back() == ":X19A28DD8N0C2100;");
  });
}

BOOST_AUTO_TEST_CASE(a_command_follows_the_train_to_its_next_alias) {
  work([](Driven& peer) -> asio::awaitable<void> {
    peer.hear(":X10703E7AN060100000003;");
    peer.when(":X10702DD8N060100000003;", {":X10701C21N060100000003;"});  // row 4: its owner alone answers
    const std::string fault = co_await peer.drive();
    BOOST_TEST(fault == "");
    BOOST_TEST(peer.commands_to("E7A") == 0);
    BOOST_TEST(peer.commands_to("C21") == 1);
  });
}

// Section 2.3 of the reference: whoever enquires for all makes everybody forget; a command must not fail of that.
BOOST_AUTO_TEST_CASE(an_enquiry_of_another_node) {
  work([](Driven& peer) -> asio::awaitable<void> {
    peer.when(":X10702DD8N060100000003;", {":X10701E7AN060100000003;"});
    peer.hear(":X10702345N;");
    peer.hear(":X191E9E7AN0DD8400303;");  // row 43, before the train said its name again
    BOOST_TEST(peer.count(":X195EBDD8N0E7A4003;") == 1);
    BOOST_TEST(peer.given_up == "");
    const std::string fault = co_await peer.drive();
    BOOST_TEST(fault == "");
    BOOST_TEST(peer.commands_to("E7A") == 1);
  });
}

// CAN Frame Transfer Standard 6.2.5: somebody uses our alias; a stop waits for the next one and goes out.
BOOST_AUTO_TEST_CASE(our_alias_changes_before_a_stop) {
  work([](Driven& peer) -> asio::awaitable<void> {
    peer.when(":X195EB1F9N0E7A10;", {":X191E9E7AN11F9100000018000;", ":X191E9E7AN21F9FFFF;"});
    peer.hear(":X19490DD8N;");
    const std::string fault = co_await peer.fault_of(peer.station.halt());
    BOOST_TEST(fault == "");
    BOOST_TEST(peer.count(":X195EB1F9N0E7A02;") == 1);
  });
}

// Message Network Standard 3.2: whoever says Initialization Complete has begun anew and knows no controller.
BOOST_AUTO_TEST_CASE(a_restarted_train_is_taken_anew_first) {
  work([](Driven& peer) -> asio::awaitable<void> {
    peer.hear(":X10701C21N060100000003;:X19100C21N060100000003;");
    const std::string fault = co_await peer.drive();
    BOOST_TEST(has(fault, "began anew"));
    BOOST_TEST(peer.commands_to("C21") == 0);
  });
}

// Train Control Standard 6.1 and 6.2; section 5.2 of the reference: trains run on when their throttle is gone.
BOOST_AUTO_TEST_CASE(after_the_link_was_lost_only_a_stop_is_sent) {
  work([](Driven& peer) -> asio::awaitable<void> {
    peer.station.node().lost("unplugged");
    const Instant before = peer.clock.now();
    const std::string down = co_await peer.fault_of(peer.station.halt());
    BOOST_TEST(has(down, "unplugged"));
    BOOST_TEST(in_seconds(peer.clock.now() - before) == 0);  // the track's power is cut all the sooner
    peer.station.node().opened(peer);
    co_await peer.pass(0.3);
    peer.hear(":X10701E7AN060100000003;");
    const std::size_t sent = peer.sent.size();
    const std::string driving = co_await peer.drive();
    BOOST_TEST(has(driving, "have to be taken anew"));
    const std::string reading = co_await peer.read(5);
    BOOST_TEST(has(reading, "take them first"));
    BOOST_TEST(peer.sent.size() == sent);
    peer.when(":X195EB1F9N0E7A10;", {":X191E9E7AN11F9100000018000;", ":X191E9E7AN21F9FFFF;"});
    const std::string halting = co_await peer.fault_of(peer.station.halt());
    BOOST_TEST(halting == "");
    BOOST_TEST(peer.count(":X195EB1F9N0E7A02;") == 1);
    peer.when(":X198F41F9N010000000000FFFF;", {":X194C5249N010000000000FFFF;"});
    const std::string power = co_await peer.fault_of(peer.station.set_power(true));
    BOOST_TEST(power == "");  // and stopped once more before power comes back
    BOOST_TEST(peer.count(":X195EB1F9N0E7A02;") == 2);
  });
}

// Event Identifiers Standard 5.2, Train Control Standard 6.2: the train would run on when a person's stop is cleared.
BOOST_AUTO_TEST_CASE(a_persons_stop_ends_the_work) {
  for (const char* event : {":X195B4345N010000000000FFFF;", ":X195B4345N010000000000FFFD;"}) {
    Driven peer;
    peer.work([event](Driven& inside) -> asio::awaitable<void> {
      inside.hear(event);
      const std::string fault = co_await inside.drive();
      BOOST_TEST(has(fault, "somebody on the bus"));
      BOOST_TEST(inside.commands_to("E7A") == 0);
      const std::string halting = co_await inside.fault_of(inside.station.halt());
      BOOST_TEST(halting == "");
    });
  }
}

// A station that reports what it was asked to do is no person.
BOOST_AUTO_TEST_CASE(our_own_power_off_is_not_a_persons) {
  work([](Driven& peer) -> asio::awaitable<void> {
    peer.when(":X195B4DD8N010000000000FFFF;", {":X195B4249N010000000000FFFF;"});
    peer.when(":X198F4DD8N010000000000FFFF;", {":X194C4249N010000000000FFFF;"});
    co_await peer.station.set_power(false);
    co_await peer.station.give_back();
    BOOST_TEST(peer.count(":X195EBDD8N1E7A20020002010D;") == 1);  // row 42
  });
}

// Message Network Standard 3.3.4 and 3.3.5: the rejected type is told; what is not about commands takes nothing away.
BOOST_AUTO_TEST_CASE(rejections_outside_a_question) {
  work([](Driven& peer) -> asio::awaitable<void> {
    peer.hear(":X190A8E7AN0DD810401C48;");  // of a datagram
    peer.hear(":X19068E7AN0DD810430DE8;");  // of a question for node information
    const std::string other = co_await peer.drive();
    BOOST_TEST(other == "");
    peer.hear(":X19068E7AN0DD8000005EB;");  // row 44
    const std::string rejected = co_await peer.drive();
    BOOST_TEST(has(rejected, "rejected a command (0x0000)"));
  });
}

// Memory Configuration Standard 4.4: replies bear no number. The late one is waited for before the same CV is asked
// for again, no longer than 30 s (Technical Note 2.4.4).
BOOST_AUTO_TEST_CASE(the_same_question_waits_for_its_late_answer) {
  work([](Driven& peer) -> asio::awaitable<void> {
    peer.when(read_cv5, {":X19A28E7AN0DD881;"});  // a reply within 2 s, which does not come
    const std::string none = co_await peer.read(5);
    BOOST_TEST(has(none, "did not answer"));
    peer.later(4, [&peer] {
      BOOST_TEST(peer.count(read_cv5) == 1);
      peer.when(read_cv5, {acknowledged, ":X1ADD8E7AN205000000004F878;"});
      peer.hear(":X1ADD8E7AN205000000004F8FF;");
    });
    const std::string value = co_await peer.read(5);
    BOOST_TEST(value == "120");
    peer.when(read_cv5, {":X19A28E7AN0DD881;"});
    const std::string again = co_await peer.read(5);
    BOOST_TEST(has(again, "did not answer"));
    peer.when(read_cv5, {acknowledged, ":X1ADD8E7AN205000000004F807;"});
    const Instant before = peer.clock.now();
    const std::string at_last = co_await peer.read(5);
    BOOST_TEST(at_last == "7");
    BOOST_TEST(in_seconds(peer.clock.now() - before) == 30, boost::test_tools::tolerance(0.01));
  });
}

BOOST_AUTO_TEST_SUITE_END()
