// The simulated command station: refresh, spacing, and writes that obey the two-packet rule (NMRA S-9.2, S-9.2.1).
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <vector>

#include "drivers/dcc/cv_access.h"
#include "drivers/dcc/speed.h"
#include "drivers/simulated/decoder.h"
#include "drivers/simulated/station.h"

namespace lapwright {
namespace {

using simulated::Decoder;
using simulated::DecoderDescription;

const auto engine = dcc::VehicleAddress::short_form(3);

struct StationLine {
  simulated::Station station{engine, false};
  Decoder decoder{DecoderDescription{}};
  double now_s = 0;
  std::vector<dcc::Packet> seen;

  void send(int packets) {
    for (int i = 0; i < packets; ++i) {
      const dcc::Packet packet = station.next();
      now_s += 1e-6 * dcc::duration_us(packet);
      decoder.receive(packet);
      station.sent(now_s, decoder.reply());
      seen.push_back(packet);
    }
  }
  [[nodiscard]] long count(const dcc::Packet& packet) const { return std::ranges::count(seen, packet); }
};

BOOST_FIXTURE_TEST_SUITE(simulated_station, StationLine)

BOOST_AUTO_TEST_CASE(refreshes_the_speed_for_ever) {
  station.drive({9, Direction::reverse, StepMode::steps28});
  send(400);
  BOOST_TEST(count(dcc::speed28(engine, Direction::reverse, 9)) >= 100);
  BOOST_TEST(now_s < 400 * 0.0125);  // real durations: S-9.1 Table 2.1, at most 12.54 ms a packet
}

BOOST_AUTO_TEST_CASE(leaves_five_ms_between_packets_for_one_decoder) {  // S-9.2 l. 116-118
  station.drive({9, Direction::forward, StepMode::steps28});
  send(10);
  station.write(67, 99);
  send(30);
  station.halt();
  send(30);
  for (std::size_t i = 1; i < seen.size(); ++i) {
    BOOST_TEST((seen[i] == dcc::idle() || seen[i - 1] == dcc::idle()));
  }
}

BOOST_AUTO_TEST_CASE(a_write_is_two_copies_with_nothing_else_between) {  // S-9.2.1 l. 520-526
  station.drive({9, Direction::forward, StepMode::steps28});
  send(21);
  station.write(67, 99);
  station.drive({10, Direction::forward, StepMode::steps28});  // has to wait for the pair or come before it
  send(40);
  BOOST_TEST(count(dcc::write_cv(engine, 67, 99)) == 2);
  const auto first = std::ranges::find(seen, dcc::write_cv(engine, 67, 99));
  BOOST_TEST((*(first + 1) == dcc::idle()));
  BOOST_TEST((*(first + 2) == dcc::write_cv(engine, 67, 99)));
  BOOST_TEST(int{decoder.cv(67)} == 99);
  BOOST_TEST(count(dcc::speed28(engine, Direction::forward, 10)) > 2);
}

BOOST_AUTO_TEST_CASE(a_silent_decoder_is_given_a_tenth_of_a_second) {  // RCN-214
  station.write(67, 99);
  const double began_s = now_s;
  while (station.busy()) send(1);
  BOOST_TEST(now_s - began_s > 0.1);
  BOOST_TEST(now_s - began_s < 0.15);
  const auto answer = station.take_answer();
  BOOST_REQUIRE(answer.has_value());
  BOOST_TEST(!answer->value.has_value());
  BOOST_TEST(!station.take_answer().has_value());
  BOOST_CHECK_NO_THROW(station.write(68, 1));
  BOOST_CHECK_THROW(station.write(69, 1), std::logic_error);
}

BOOST_AUTO_TEST_CASE(a_stop_goes_first_and_the_write_is_sent_again) {
  station.drive({9, Direction::forward, StepMode::steps28});
  send(20);
  station.write(67, 99);
  while (count(dcc::write_cv(engine, 67, 99)) == 0) send(1);
  station.halt();
  send(2);
  BOOST_TEST(count(dcc::emergency_stop(engine, Direction::forward)) == 1);
  BOOST_TEST(int{decoder.cv(67)} != 99);
  while (station.busy()) send(1);
  BOOST_TEST(int{decoder.cv(67)} == 99);
  BOOST_TEST(count(dcc::write_cv(engine, 67, 99)) == 3);
}

BOOST_AUTO_TEST_CASE(answers_are_heard) {  // RCN-217: read and write replies
  DecoderDescription talking;
  talking.answers_reads = true;
  decoder = Decoder(talking);
  station = simulated::Station(engine, true);
  station.write(67, 99);
  while (station.busy()) send(1);
  const auto written = station.take_answer();
  BOOST_REQUIRE((written && written->value));
  BOOST_TEST(int{*written->value} == 99);
  BOOST_TEST(now_s < 0.1);
  station.read(67);
  while (station.busy()) send(1);
  const auto read = station.take_answer();
  BOOST_REQUIRE((read && read->value));
  BOOST_TEST(int{*read->value} == 99);
}

BOOST_AUTO_TEST_CASE(a_read_of_a_silent_decoder_ends_after_half_a_second) {  // RCN-217
  station.read(8);
  while (station.busy()) send(1);
  BOOST_TEST(now_s > 0.5);
  BOOST_TEST(now_s < 0.55);
  BOOST_TEST(!station.take_answer()->value.has_value());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
