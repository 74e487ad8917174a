// The whole job with the real firmware: lapwrightd, the firmware in the simulated chip on its pseudo-terminal, and the
// simulated railway before the chip's pins.
#include <boost/test/unit_test.hpp>

#include "daemon/exit_codes.h"
#include "drivers/settings/reader.h"
#include "drivers/simulated/engine_file.h"
#include "drivers/simulated/railway_file.h"
#include "tests/firmware_job/firmware_stand.h"
#include "tests/whole_job/works.h"

namespace lapwright {
namespace {

constexpr double tune_limit_s = 300;

}  // namespace

BOOST_FIXTURE_TEST_SUITE(firmware, Works)

BOOST_AUTO_TEST_CASE(a_tune_with_the_real_firmware) {
  const nlohmann::json rig = rig_json("bench");
  settings::Document document = settings::parse(rig["railway"].dump(), "rig.json");
  FirmwareStand stand(simulated::read_railway(document.root()), simulated::load_engine(file("rowan_engine.json")),
                      rig["seed"], file("avr_board.log"));
  nlohmann::json configuration = json("bench.json");
  configuration["rig"]["station"]["link"]["port"] = stand.station_port();
  nlohmann::json& board = configuration["rig"]["board"];
  board["link"]["device"] = stand.board_device();
  board["serial"] = "QT-0001";
  board["settings"] = {{"gates", "8"}, {"trip_mA", "1500"}};
  // The stamps are the chip's, but the pins change when this process gets round to it.
  configuration["track"]["stamp_error_s"] = 0.005;
  configuration["reports"] = "firmware";
  write("firmware.json", configuration);

  Process daemon(LAPWRIGHT_PROGRAMS "/lapwrightd",
                 {"--config", file("firmware.json").string(), "--once", "--socket", file("fw.sock").string()},
                 file("firmware.log"));
  const auto ended = daemon.wait(tune_limit_s);
  BOOST_REQUIRE_MESSAGE(ended == exit_ok, daemon.output());
  BOOST_TEST(report("firmware")["outcome"]["steps"]["proved"] == 3);
  BOOST_TEST(worst_error(report("firmware"), rig, file("rowan_engine.json")) < 1);
  BOOST_TEST(!stand.relay_closed());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
