// CVs through a train node, frame by frame: Memory Configuration Standard 4.4-4.9, Datagram Transport Standard 4 and 6.
// The numbers are those of the worked frames in reference/lcc.md 9, exchanged with a running implementation.
#include "tests/standards/lcc_peer.h"

using namespace lapwright;
using namespace lapwright::lcc;

namespace {

constexpr const char* our_acknowledgement = ":X19A28DD8N0E7A00;";
constexpr const char* read_cv29 = ":X1AE7ADD8N20400000001CF801;";
constexpr const char* write_cv5 = ":X1AE7ADD8N200000000004F8B4;";

/// Operations whose faults are words.
struct Engine : PeerWithTrain<Engine> {
  asio::awaitable<std::string> write(int cv, int value) {
    try {
      const CvWriteReply reply = co_await station.write_cv(cv, static_cast<std::uint8_t>(value));
      co_return reply == CvWriteReply::confirmed ? "confirmed" : reply == CvWriteReply::silent ? "silent" : "refused";
    } catch (const RigFault& fault) {
      co_return fault.what();
    }
  }
  asio::awaitable<std::string> set_table_bit() {
    try {
      const CvWriteReply reply = co_await station.write_cv_bit(29, 4, true);
      if (reply == CvWriteReply::unsupported) co_return "unsupported";
      co_return reply == CvWriteReply::confirmed ? "confirmed" : "not confirmed";
    } catch (const RigFault& fault) {
      co_return fault.what();
    }
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(lcc_cvs, Engine)

// Rows 26-29.
BOOST_AUTO_TEST_CASE(read_and_written_with_feedback) {
  work([](Engine& engine) -> asio::awaitable<void> {
    engine.when(read_cv5, {acknowledged, ":X1ADD8E7AN205000000004F8FF;"});
    const std::string value = co_await engine.read(5);
    BOOST_TEST(value == "255");
    BOOST_TEST(engine.sent.back() == our_acknowledgement);
    engine.when(write_cv5, {acknowledged, ":X1ADD8E7AN201000000004F8;"});
    const std::string done = co_await engine.write(5, 180);
    BOOST_TEST(done == "confirmed");
    BOOST_TEST(engine.count(our_acknowledgement) == 2);
    engine.when(":X1AE7ADD8N200000000042F80C;", {acknowledged, ":X1ADD8E7AN201000000042F8;"});
    const std::string table = co_await engine.write(67, 12);
    BOOST_TEST(table == "confirmed");
    engine.when(":X1AE7ADD8N20000000005DF8C8;", {":X19A28E7AN0DD800;"});  // sent, and nothing more is said
    const std::string top = co_await engine.write(94, 200);
    BOOST_TEST(top == "silent");
  });
}

// Rows 31 and 32: no decoder feedback. What was sent counts as sent; a split other than 8 + 1 is as good.
BOOST_AUTO_TEST_CASE(silent_decoders) {
  work([](Engine& engine) -> asio::awaitable<void> {
    engine.when(write_cv5, {acknowledged, ":X1BDD8E7AN201800000004F820;", ":X1DDD8E7AN01;"});
    const std::string written = co_await engine.write(5, 180);
    BOOST_TEST(written == "silent");
    BOOST_TEST(engine.sent.back() == our_acknowledgement);
    BOOST_TEST(engine.count(write_cv5) == 1);
    engine.when(read_cv5, {acknowledged, ":X1BDD8E7AN20580000;", ":X1CDD8E7AN0004F8;", ":X1DDD8E7AN2030;"});
    const std::string value = co_await engine.read(5);
    BOOST_TEST(value == "nothing");
  });
}

// Rows 33 and 34.
BOOST_AUTO_TEST_CASE(refusals) {
  work([](Engine& engine) -> asio::awaitable<void> {
    engine.when(read_cv5, {acknowledged, ":X1BDD8E7AN205800000004F810;", ":X1DDD8E7AN82;"});
    const std::string out_of_bounds = co_await engine.read(5);
    BOOST_TEST(has(out_of_bounds, "did not read CV5 (0x1082)"));
    engine.when(read_cv5, {":X19A48E7AN0DD81081;"});
    const std::string no_space = co_await engine.read(5);
    BOOST_TEST(has(no_space, "0x1081"));
    BOOST_TEST(engine.count(read_cv5) == 2);  // what is permanent is not asked again
    const std::string beyond = co_await engine.read(1025);
    BOOST_TEST(has(beyond, "CVs are 1 to 1024"));
    // Train Control Technical Note 4.3.3: bit 4 of CV29 by the address modifier; an open implementation has none.
    engine.when(":X1AE7ADD8N20001400001CF801;", {acknowledged, ":X1BDD8E7AN20181400001CF810;", ":X1DDD8E7AN82;"});
    engine.when(read_cv29, {acknowledged, ":X1BDD8E7AN20580000001CF820;", ":X1DDD8E7AN30;"});
    const std::string unreadable = co_await engine.set_table_bit();
    BOOST_TEST(unreadable == "unsupported");
    // Where the decoder can be read, the byte is written, its other bits as they were; what is right already is left.
    engine.when(read_cv29, {acknowledged, ":X1ADD8E7AN20500000001CF822;"});
    engine.when(":X1AE7ADD8N20000000001CF832;", {acknowledged, ":X1ADD8E7AN20100000001CF8;"});
    const std::string changed = co_await engine.set_table_bit();
    BOOST_TEST(changed == "confirmed");
    BOOST_TEST(engine.count(":X1AE7ADD8N20000000001CF832;") == 1);
    engine.when(read_cv29, {acknowledged, ":X1ADD8E7AN20500000001CF832;"});
    const std::string left = co_await engine.set_table_bit();
    BOOST_TEST(left == "confirmed");
    BOOST_TEST(engine.count(":X1AE7ADD8N20000000001CF832;") == 1);
  });
}

// Datagram Transport Standard 6.2: what was rejected led to nothing, also where the code is one of no feedback.
BOOST_AUTO_TEST_CASE(a_rejection_is_never_taken_for_sent) {
  work([](Engine& engine) -> asio::awaitable<void> {
    engine.when(write_cv5, {":X19A48E7AN0DD82001;"});
    const std::string written = co_await engine.write(5, 180);
    BOOST_TEST(has(written, "did not write CV5 (0x2001)"));
    engine.when(read_cv5, {":X19A48E7AN0DD82030;"});
    const std::string value = co_await engine.read(5);
    BOOST_TEST(has(value, "did not read CV5 (0x2030)"));
  });
}

// Datagram Transport Standard 6.2: temporary errors (0x2xxx) are worth another try, a bounded number of times.
BOOST_AUTO_TEST_CASE(busy_then_served) {
  work([](Engine& engine) -> asio::awaitable<void> {
    engine.when(write_cv5, {":X19A48E7AN0DD82020;"});
    const std::string busy = co_await engine.write(5, 180);
    BOOST_TEST(has(busy, "0x2020"));
    BOOST_TEST(engine.count(write_cv5) == 4);
    engine.rules.erase(write_cv5);
    engine.pending.clear();
    engine.later(0.2, [&engine] { engine.when(write_cv5, {acknowledged, ":X1ADD8E7AN201000000004F8;"}); });
    engine.when(write_cv5, {":X19A48E7AN0DD82020;"});
    const std::string served = co_await engine.write(5, 180);
    BOOST_TEST(served == "confirmed");
  });
}

BOOST_AUTO_TEST_CASE(no_acknowledgement_and_no_reply) {
  work([](Engine& engine) -> asio::awaitable<void> {
    engine.when(read_cv5, {});
    const std::string silent = co_await engine.read(5);
    BOOST_TEST(has(silent, "did not answer to a CV access"));
    engine.when(read_cv5, {":X1ADD8E7AN205000000004F8FF;"});  // the reply alone says enough
    const std::string value = co_await engine.read(5);
    BOOST_TEST(value == "255");
    engine.when(read_cv5, {":X19A28E7AN0DD881;"});  // a reply within 2 s, which does not come
    const Instant before = engine.clock.now();
    const std::string late = co_await engine.read(5);
    BOOST_TEST(has(late, "did not answer"));
    BOOST_TEST(in_seconds(engine.clock.now() - before) == 2, boost::test_tools::tolerance(0.05));
  });
}

// A reply that comes too late is acknowledged, or the station would stand still, and is not the next request's.
BOOST_AUTO_TEST_CASE(late_replies) {
  work([](Engine& engine) -> asio::awaitable<void> {
    engine.when(read_cv5, {":X19A28E7AN0DD881;"});
    co_await engine.read(5);
    engine.hear(":X1ADD8E7AN205000000004F8FF;");
    BOOST_TEST(engine.sent.back() == our_acknowledgement);
    engine.when(":X1AE7ADD8N204000000003F801;",
                {acknowledged, ":X1ADD8E7AN205000000004F8FE;", ":X1ADD8E7AN205000000003F80C;"});
    const std::string value = co_await engine.read(4);
    BOOST_TEST(value == "12");
  });
}

// Message Network Standard 7.3.1.3: frames of other sources come between, and what they say is not ours.
BOOST_AUTO_TEST_CASE(another_train_talks_in_between) {
  work([](Engine& engine) -> asio::awaitable<void> {
    engine.when(write_cv5, {":X10701618N06010000C003;", acknowledged, ":X1BDD8618N201800000004F810;",
                            ":X1BDD8E7AN201800000004F820;", ":X1DDD8618N82;", ":X1DDD8E7AN01;"});
    const std::string written = co_await engine.write(5, 180);
    BOOST_TEST(written == "silent");
  });
}

// Row 43 in the middle of an access: the train would stop if its question were not answered in time.
BOOST_AUTO_TEST_CASE(a_heartbeat_during_an_access) {
  work([](Engine& engine) -> asio::awaitable<void> {
    engine.when(write_cv5, {acknowledged, ":X191E9E7AN0DD8400303;", ":X1ADD8E7AN201000000004F8;"});
    const std::string written = co_await engine.write(5, 180);
    BOOST_TEST(written == "confirmed");
    BOOST_TEST(engine.count(":X195EBDD8N0E7A4003;") == 1);
  });
}

BOOST_AUTO_TEST_CASE(the_link_is_lost_in_the_middle_of_it) {
  work([](Engine& engine) -> asio::awaitable<void> {
    engine.when(write_cv5, {acknowledged});
    engine.later(0.5, [&engine] {
      engine.station.node().lost("unplugged");
      engine.station.node().opened(engine);
    });
    const Instant before = engine.clock.now();
    const std::string lost = co_await engine.write(5, 180);
    BOOST_TEST(has(lost, "lost"));
    BOOST_TEST(in_seconds(engine.clock.now() - before) < 1);
    const ThrottleCommand command{1, Direction::forward, StepMode::steps126};
    const std::string not_ours = co_await engine.fault_of(engine.station.drive(command));
    BOOST_TEST(has(not_ours, "have to be taken anew"));
  });
}

BOOST_AUTO_TEST_SUITE_END()
