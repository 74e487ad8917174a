// Whole conversations on an LCC bus, frame by frame. The numbers are those of the worked frames in reference/lcc.md 9,
// which name the OpenLCB documents that they follow from; most were exchanged with a running implementation.
#include "tests/standards/lcc_peer.h"

using namespace lapwright;
using namespace lapwright::lcc;

namespace {}  // namespace

BOOST_FIXTURE_TEST_SUITE(lcc_frames, Peer)

// Rows 1, 3, 4 and 40: CAN Frame Transfer Standard 6.2.1, Message Network Standard 3.2, Event Transport Standard 6.
BOOST_AUTO_TEST_CASE(getting_on_the_bus) {
  run([](Peer& peer) -> asio::awaitable<void> {
    co_await peer.pass(0.19);
    const std::vector<std::string> asking = {":X17020DD8N;", ":X1610DDD8N;", ":X154C4DD8N;", ":X14301DD8N;"};
    BOOST_TEST(peer.sent == asking, boost::test_tools::per_element());
    co_await peer.pass(0.02);
    const std::vector<std::string> entering = {":X10700DD8N;",
                                               ":X10701DD8N02010D4C4301;",
                                               ":X19100DD8N02010D4C4301;",
                                               ":X194C7DD8N0101020000FB000C;",
                                               ":X19547DD8N0501010122600001;",
                                               ":X10702DD8N;"};
    const std::vector<std::string> rest(peer.sent.begin() + 4, peer.sent.end());
    BOOST_TEST(rest == entering, boost::test_tools::per_element());
  });
}

// CAN Frame Transfer Standard 6.2.1: any frame under the tentative alias means to start over with the next.
BOOST_AUTO_TEST_CASE(an_alias_that_is_defended_is_left_alone) {
  run([](Peer& peer) -> asio::awaitable<void> {
    co_await peer.pass(0.1);
    peer.hear(":X10700DD8N;");
    co_await peer.pass(0.3);
    BOOST_TEST(peer.count(":X10701DD8N02010D4C4301;") == 0);
    BOOST_TEST(peer.count(":X107011F9N02010D4C4301;") == 1);
  });
}

// Rows 5 and 6: CAN Frame Transfer Standard 6.2.3-6.2.5.
BOOST_AUTO_TEST_CASE(an_alias_is_defended_and_given_up) {
  run([](Peer& peer) -> asio::awaitable<void> {
    co_await peer.pass(0.3);
    peer.hear(":X14301DD8N;");
    BOOST_TEST(peer.sent.back() == ":X10700DD8N;");
    peer.hear(":X19490DD8N;");
    BOOST_TEST(peer.sent.back() == ":X10703DD8N02010D4C4301;");
    BOOST_TEST((peer.station.node().presence() == Presence::choosing_alias));
    co_await peer.pass(0.3);
    BOOST_TEST(peer.count(":X107011F9N02010D4C4301;") == 1);
    BOOST_TEST((peer.station.node().presence() == Presence::on_the_bus));
  });
}

// CAN Frame Transfer Standard 6.2.6: another node with our ID; we stay off until a person sees to it.
BOOST_AUTO_TEST_CASE(a_second_node_with_our_id) {
  run([](Peer& peer) -> asio::awaitable<void> {
    co_await peer.pass(0.3);
    peer.hear(":X10701123N02010D4C4301;");
    BOOST_TEST(peer.count(":X195B4DD8N0101000000000201;") == 1);
    BOOST_TEST(has(peer.station.trouble(), "give this program an ID of its own"));
    const std::size_t before = peer.sent.size();
    peer.hear(":X19490345N;");
    co_await peer.pass(10);
    BOOST_TEST(peer.sent.size() == before);
  });
}

// Rows 7, 8, 12 and what Message Network Standard 3.5.1 demands: CAN duties of every node.
BOOST_AUTO_TEST_CASE(what_a_node_owes_others) {
  run([](Peer& peer) -> asio::awaitable<void> {
    co_await peer.pass(0.3);
    const auto answer = [&peer](const char* frames) {
      peer.sent.clear();
      peer.hear(frames);
      return peer.sent.empty() ? std::string() : peer.sent.front();
    };
    BOOST_TEST(answer(":X19490345N;") == ":X19170DD8N02010D4C4301;");
    BOOST_TEST(answer(":X19490345N02010D4C4301;") == ":X19170DD8N02010D4C4301;");
    BOOST_TEST(answer(":X19490345N02010D4C4302;") == "");
    BOOST_TEST(answer(":X19488345N0DD8;") == ":X19170DD8N02010D4C4301;");
    BOOST_TEST(answer(":X19488345N0DD9;") == "");
    BOOST_TEST(answer(":X10702345N;") == ":X10701DD8N02010D4C4301;");
    BOOST_TEST(answer(":X10702345N02010D4C4301;") == ":X10701DD8N02010D4C4301;");
    BOOST_TEST(answer(":X10702345N060100000003;") == "");
    BOOST_TEST(answer(":X19828345N0DD8;") == ":X19668DD8N0345441000;");
    BOOST_TEST(answer(":X198F4345N0101020000FB000C;") == ":X194C7DD8N0101020000FB000C;");
    BOOST_TEST(answer(":X198F4345N0101020000FB000D;") == "");
    BOOST_TEST(answer(":X19970345N;") == ":X194C7DD8N0101020000FB000C;");
    BOOST_TEST(answer(":X19968345N0DD8;") == ":X194C7DD8N0101020000FB000C;");
    BOOST_TEST(peer.sent.back() == ":X19547DD8N0501010122600001;");
    BOOST_TEST(answer(":X19914345N0501010122600001;") == ":X19547DD8N0501010122600001;");
    BOOST_TEST(answer(":X19914345N0501010122600002;") == "");
    BOOST_TEST(answer(":X19CC8345N0DD801;") == ":X19068DD8N034510430CC8;");  // a type that we do not know
    BOOST_TEST(answer(":X1ADD8345N30;") == ":X19A48DD8N03451042;");          // a datagram that we do not serve
    BOOST_TEST(answer(":X19DE8345N0DD8;").substr(0, 17) == ":X19A08DD8N134504");
  });
}

// Rows 9, 13, 15-19 and 24: Train Search Standard 6, Train Control Standard 4.3 and 6.1. The speeds lie a quarter of a
// step above those of the rows; which step they give is tested with the codec.
BOOST_AUTO_TEST_CASE(finding_taking_and_driving_a_train) {
  run([](Peer& peer) -> asio::awaitable<void> {
    peer.usual_train();
    co_await peer.take_train();
    BOOST_TEST(peer.count(":X195EBDD8N1E7A20010002010D;") == 1);
    BOOST_TEST(peer.count(":X195EBDD8N1E7A30018C02010D;") == 1);
    BOOST_TEST(peer.station.listening());
    for (const auto& [step, direction, frame] : std::vector<std::tuple<int, Direction, std::string>>{
             {0, Direction::forward, ":X195EBDD8N0E7A000000;"}, {0, Direction::reverse, ":X195EBDD8N0E7A008000;"}}) {
      const ThrottleCommand command{step, direction, StepMode::steps126};
      co_await peer.station.drive(command);
      BOOST_TEST(peer.sent.back() == frame);
    }
    const Instant before = peer.clock.now();
    const ThrottleCommand command{50, Direction::forward, StepMode::steps126};
    co_await peer.station.drive(command);
    BOOST_TEST(in_seconds(peer.clock.now() - before) >= 0.05);  // a change that comes too soon would never be sent
    BOOST_TEST(peer.sent.back().substr(0, 17) == ":X195EBDD8N0E7A00");
  });
}

// Message Network Standard 3.3.4: a train without listeners says so, or nothing; it can be driven all the same.
BOOST_AUTO_TEST_CASE(a_train_that_has_no_listeners) {
  for (const std::vector<std::string>& answer : {std::vector<std::string>{}, {":X19068E7AN0DD8104005EB;"}}) {
    Peer peer;
    peer.run([answer](Peer& inside) -> asio::awaitable<void> {
      inside.usual_train();
      inside.when(":X195EBDD8N1E7A30018C02010D;", answer);
      co_await inside.take_train();
      BOOST_TEST(!inside.station.listening());
      const ThrottleCommand command{1, Direction::forward, StepMode::steps126};
      const std::string fault = co_await inside.fault_of(inside.station.drive(command));
      BOOST_TEST(fault == "");
    });
  }
}

// Reference 6: a search for 3 also brings long 3; the train is known by its node ID alone.
BOOST_AUTO_TEST_CASE(another_trains_answer_is_not_taken) {
  run([](Peer& peer) -> asio::awaitable<void> {
    peer.usual_train();
    peer.when(":X19914DD8N090099FFFFFFF3EB;", {":X10701618N06010000C003;", ":X19544618N090099FFFFFFF3EB;"});
    const std::string fault = co_await peer.fault_of(peer.take_train());
    BOOST_TEST(has(fault, "none is the node of that DCC address"));
    peer.when(":X19914DD8N090099FFFFFFF3EB;", {":X10701618N06010000C003;", ":X19544618N090099FFFFFFF3EB;",
                                               ":X10701E7AN060100000003;", ":X19547E7AN090099FFFFFFF3EB;"});
    co_await peer.take_train();
    BOOST_TEST(peer.count(":X195EBDD8N1E7A20010002010D;") == 1);
  });
}

BOOST_AUTO_TEST_CASE(nobody_answers_to_a_search) {
  run([](Peer& peer) -> asio::awaitable<void> {
    const std::string fault = co_await peer.fault_of(peer.take_train());
    BOOST_TEST(has(fault, "neither knows nor creates a train with short address 3"));
  });
}

// Train Control Standard 6.1: bit 0, the old controller did not let go; bit 1, the train refused.
BOOST_AUTO_TEST_CASE(a_train_that_is_not_to_be_had) {
  run([](Peer& peer) -> asio::awaitable<void> {
    peer.usual_train();
    peer.when(":X195EBDD8N1E7A20010002010D;", {":X191E9E7AN0DD8200101;"});
    const std::string held = co_await peer.fault_of(peer.take_train());
    BOOST_TEST(has(held, "another throttle holds the engine"));
    peer.when(":X195EBDD8N1E7A20010002010D;", {":X191E9E7AN0DD8200102;"});
    const std::string refused = co_await peer.fault_of(peer.take_train());
    BOOST_TEST(has(refused, "refused to be taken"));
    peer.when(":X195EBDD8N1E7A20010002010D;", {":X19068E7AN0DD8000005EB;"});  // row 44
    const std::string rejected = co_await peer.fault_of(peer.take_train());
    BOOST_TEST(has(rejected, "rejected a command (0x0000)"));
    peer.when(":X195EBDD8N1E7A20010002010D;", {});
    const std::string silent = co_await peer.fault_of(peer.take_train());
    BOOST_TEST(has(silent, "did not answer to being taken"));
  });
}

// Rows 20 and 21: Train Control Standard 4.4; an emergency stop is confirmed by the set speed.
BOOST_AUTO_TEST_CASE(a_stop_is_seen_to_be_done) {
  run([](Peer& peer) -> asio::awaitable<void> {
    peer.usual_train();
    co_await peer.take_train();
    peer.when(":X195EBDD8N0E7A10;", {":X191E9E7AN1DD8108000018000;", ":X191E9E7AN2DD8FFFF;"});
    co_await peer.station.halt();
    BOOST_TEST(peer.count(":X195EBDD8N0E7A02;") == 1);
    peer.when(":X195EBDD8N0E7A10;", {":X191E9E7AN1DD810530A00530A;", ":X191E9E7AN2DD8FFFF;"});
    const std::string fault = co_await peer.fault_of(peer.station.halt());
    BOOST_TEST(has(fault, "does not confirm that it stopped"));
    BOOST_TEST(peer.count(":X195EBDD8N0E7A02;") == 4);
  });
}

// Rows 43 and 45, and Train Control Standard 4.3: heartbeat, loss of the controls, a rival who asks for them.
BOOST_AUTO_TEST_CASE(what_a_train_says_meanwhile) {
  run([](Peer& peer) -> asio::awaitable<void> {
    peer.usual_train();
    co_await peer.take_train();
    peer.hear(":X191E9E7AN0DD8400303;");
    BOOST_TEST(peer.sent.back() == ":X195EBDD8N0E7A4003;");
    peer.hear(":X195EBE7AN1DD820040002010D;:X195EBE7AN2DD84C4302;");
    BOOST_TEST(peer.sent.back() == ":X191E9DD8N0E7A200401;");
    peer.hear(":X190A8E7AN0DD8102105EB;");
    const ThrottleCommand command{1, Direction::forward, StepMode::steps126};
    const std::string fault = co_await peer.fault_of(peer.station.drive(command));
    BOOST_TEST(has(fault, "another throttle may have taken the engine"));
  });
}

// Row 25: copies of another throttle's commands, speed and emergency stop.
BOOST_AUTO_TEST_CASE(a_foreign_command_ends_the_work) {
  for (const char* copy : {":X195EBE7AN0DD880C478;", ":X195EBE7AN0DD882;"}) {
    Peer peer;
    peer.run([copy](Peer& inside) -> asio::awaitable<void> {
      inside.usual_train();
      co_await inside.take_train();
      inside.hear(copy);
      const ThrottleCommand command{1, Direction::forward, StepMode::steps126};
      const std::string fault = co_await inside.fault_of(inside.station.drive(command));
      BOOST_TEST(has(fault, "another throttle commanded the engine"));
    });
  }
}

// Row 42: Train Control Standard 6.1; the engine is stopped first, trains run on after their throttle has gone.
BOOST_AUTO_TEST_CASE(giving_a_train_back) {
  run([](Peer& peer) -> asio::awaitable<void> {
    peer.usual_train();
    co_await peer.take_train();
    co_await peer.station.give_back();
    BOOST_TEST(peer.count(":X195EBDD8N0E7A02;") == 1);
    BOOST_TEST(peer.sent[peer.sent.size() - 2] == ":X195EBDD8N1E7A20020002010D;");
  });
}

// Rows 37 and 38: Event Identifiers Standard 5.2, Event Transport Standard 6.
BOOST_AUTO_TEST_CASE(track_power) {
  run([](Peer& peer) -> asio::awaitable<void> {
    peer.when(":X198F4DD8N010000000000FFFF;", {":X194C4249N010000000000FFFF;"});
    co_await peer.station.set_power(false);
    BOOST_TEST(peer.count(":X195B4DD8N010000000000FFFF;") == 1);
    const std::string stuck = co_await peer.fault_of(peer.station.set_power(true));
    BOOST_TEST(has(stuck, "keeps track power off"));
    peer.when(":X198F4DD8N010000000000FFFF;", {":X194C5249N010000000000FFFF;"});
    co_await peer.station.set_power(true);
    BOOST_TEST(peer.count(":X195B4DD8N010000000000FFFE;") == 2);
    const std::string live = co_await peer.fault_of(peer.station.set_power(false));
    BOOST_TEST(has(live, "did not switch track power off"));
    peer.when(":X198F4DD8N010000000000FFFF;", {});  // a station need not answer, but this one did
    const std::string silent = co_await peer.fault_of(peer.station.set_power(false));
    BOOST_TEST(has(silent, "does not say any more whether track power is off"));
  });
}

// Event Transport Standard 6.4: no answer is in order.
BOOST_AUTO_TEST_CASE(track_power_of_a_station_that_never_tells) {
  run([](Peer& peer) -> asio::awaitable<void> {
    co_await peer.station.set_power(true);
    co_await peer.station.set_power(false);
    BOOST_TEST(peer.count(":X195B4DD8N010000000000FFFF;") == 1);
    BOOST_TEST(!peer.station.tells_power());
  });
}

BOOST_AUTO_TEST_SUITE_END()
