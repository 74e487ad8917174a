// Turnouts over LCC: an event report for each order (Event Transport Standard 4.5), by a producer that has said so
// before (4.6, 5). The well-known events of accessory decoders: Event Identifiers Standard 5.3; that the twelve bits
// are the address on the track and the output is from memory.
#include "drivers/wired_rig.h"
#include "tests/standards/lcc_peer.h"

using namespace lapwright;
using namespace lapwright::lcc;

namespace {

class NoGates final : public EdgeSource {
 public:
  asio::awaitable<std::optional<GateEdge>> next_edge(Instant) override { co_return std::nullopt; }
};

TurnoutOrder accessory_order(int user_number, bool straight) {
  return dcc::BasicAccessory{dcc::accessory_address(user_number), true, straight};
}

}  // namespace

BOOST_FIXTURE_TEST_SUITE(lcc_turnouts, Peer)

// User's number 1 is address 4 on the track (S-9.2.1 l. 609-620), so that its outputs are 8 and 9; 10 is 13: 26, 27.
BOOST_AUTO_TEST_CASE(accessories_have_well_known_events) {
  BOOST_TEST(turnout_event(accessory_order(1, false)).text() == "01.01.02.00.00.FF.00.08");
  BOOST_TEST(turnout_event(accessory_order(1, true)).text() == "01.01.02.00.00.FF.00.09");
  BOOST_TEST(turnout_event(accessory_order(10, true)).text() == "01.01.02.00.00.FF.00.1B");
  BOOST_TEST(turnout_event(accessory_order(2044, true)).text() == "01.01.02.00.00.FF.0F.FF");
  BOOST_TEST(turnout_event(dcc::BasicAccessory{4, false, true}).text() == "01.01.02.00.00.FE.00.09");
  BOOST_TEST(turnout_event(std::uint64_t{0x0501010122600001}).text() == "05.01.01.01.22.60.00.01");
}

BOOST_AUTO_TEST_CASE(a_route_is_an_event_for_each_turnout_in_order) {
  run([](Peer& peer) -> asio::awaitable<void> {
    co_await peer.pass(0.3);
    NoGates gates;
    WiredRig rig(peer.station, gates, nullptr);
    TurnoutRoutes routes;
    routes.orders = {{accessory_order(1, true)}, {accessory_order(1, false), std::uint64_t{0x0501010122600001}}};
    asio::awaitable<void> undescribed = rig.set_route(1);
    const std::string none = co_await peer.fault_of(std::move(undescribed));
    BOOST_TEST(has(none, "no turnouts for route 1"));
    rig.use_routes(routes, peer.clock);
    const std::size_t before = peer.sent.size();
    const Instant begun = peer.clock.now();
    co_await rig.set_route(1);
    BOOST_REQUIRE(peer.sent.size() == before + 2);
    BOOST_TEST(peer.sent[before] == ":X195B4DD8N0101020000FF0008;");
    BOOST_TEST(peer.sent[before + 1] == ":X195B4DD8N0501010122600001;");
    // A quarter of a second between turnouts, and a second and a half until the last one lies.
    BOOST_TEST(in_seconds(peer.clock.now() - begun) == 2.0, boost::test_tools::tolerance(1e-6));
    asio::awaitable<void> beyond = rig.set_route(2);
    const std::string refused = co_await peer.fault_of(std::move(beyond));
    BOOST_TEST(has(refused, "no turnouts for route 2"));
  });
}

BOOST_AUTO_TEST_SUITE_END()
