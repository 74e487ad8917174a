// What is known of an engine from one work to the next, in a document that its owner may edit.
#include "daemon/engine_file.h"

#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <nlohmann/json.hpp>

#include "tests/temporary_folder.h"
#include "tests/unit/daemon_samples.h"

namespace lapwright {
namespace {

struct Shelf {
  TemporaryFolder folder;
  RealStorage storage;
  Job job = samples::job();
  JobResult result = samples::result();

  [[nodiscard]] EngineFile file() { return {storage, folder.path(), job.record}; }
  [[nodiscard]] std::filesystem::path path() const {
    return folder.path() / "engines" / (file_stem(job.record) + ".json");
  }
  [[nodiscard]] nlohmann::json document() { return nlohmann::json::parse(storage.read(path()).value()); }
  void add(const std::string& id, const std::string& at) { file().add(work_of(job, result, id, at)); }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(engine_file, Shelf)

BOOST_AUTO_TEST_CASE(works_follow_each_other) {
  BOOST_TEST(file().history().empty());
  add("a", "first night");
  result.tune.cells.front().speed_mm_s += 1;
  add("b", "second night");
  const std::vector<EarlierTune> history = file().history();
  BOOST_REQUIRE(history.size() == 2U);
  BOOST_TEST(history[0].date == "first night");
  BOOST_TEST(history[1].date == "second night");
  BOOST_TEST(history[0].work == "tune");
  const CellResult& first = result.tune.cells.front();
  BOOST_TEST(history[1].speeds.at(first.step).forward_mm_s.value() == first.speed_mm_s,
             boost::test_tools::tolerance(1e-3));
  BOOST_TEST(
      history[1].speeds.at(first.step).forward_mm_s.value() - history[0].speeds.at(first.step).forward_mm_s.value() ==
          1.0,
      boost::test_tools::tolerance(1e-3));
  BOOST_TEST(document()["cvs"].size() == result.cvs.size());
}

BOOST_AUTO_TEST_CASE(what_a_work_has_not_touched_stays_known) {
  add("a", "first night");
  result.work = Work::restore;
  result.cvs = {{3, 30}};
  result.tune.traits = {};
  add("b", "second night");
  const KnownEngine known = file().known();
  BOOST_TEST(known.cvs.at(3) == 30);
  BOOST_TEST(known.cvs.at(94) == 240);
  BOOST_TEST((known.traits.trims_act == true));
  BOOST_TEST((known.traits.table_scaled == false));
  result.identity = {{7, 1}, {8, 90}};
  add("c", "third night");  // the decoder tells who it is
  BOOST_TEST(file().known().cvs.contains(94));
  result.identity = {{7, 2}, {8, 90}};
  add("d", "fourth night");  // and this is another one
  BOOST_TEST(!file().known().cvs.contains(94));
  BOOST_TEST(!file().known().traits.trims_act.has_value());
}

// A service that was killed after it told and before it knew that it had.
BOOST_AUTO_TEST_CASE(the_same_work_told_again_stands_there_once) {
  add("a", "first night");
  add("b", "second night");
  add("b", "a little later");
  const std::vector<EarlierTune> history = file().history();
  BOOST_REQUIRE(history.size() == 2U);
  BOOST_TEST(history[1].date == "a little later");
}

BOOST_AUTO_TEST_CASE(what_the_owner_wrote_stays) {
  add("a", "first night");
  nlohmann::ordered_json edited = nlohmann::ordered_json::parse(storage.read(path()).value());
  edited["box"] = "third shelf";
  edited["history"][0]["outcome"] = "new wheels since";
  storage.write(path(), edited.dump());
  add("b", "second night");
  BOOST_TEST(document()["box"] == "third shelf");
  BOOST_TEST(file().history().at(0).outcome == "new wheels since");
  BOOST_TEST(file().history().size() == 2U);
}

BOOST_AUTO_TEST_CASE(what_can_not_be_understood_is_left_and_nothing_is_lost) {
  add("a", "first night");
  for (const char* const text : {"{\"half\": ", "[]", R"({"schema":"lapwright engine","version":2,"history":[]})"}) {
    storage.write(path(), text);
    BOOST_CHECK_THROW(static_cast<void>(file().history()), FileLost);
    BOOST_CHECK_EXCEPTION(add("b", "second night"), FileLost, [](const FileLost& lost) {
      return std::string(lost.what()).find(".json.not-taken") != std::string::npos;
    });
    BOOST_TEST(storage.read(path()).value() == text);
    BOOST_TEST(storage.read(path().string() + ".not-taken").value().find("second night") != std::string::npos);
  }
  storage.write(path(), R"({"schema":"lapwright engine","version":1,"history":[{"at":5}]})");
  BOOST_CHECK_EXCEPTION(static_cast<void>(file().history()), FileLost, [](const FileLost& lost) {
    return std::string(lost.what()).find("/history/0") != std::string::npos;
  });
}

BOOST_AUTO_TEST_CASE(without_a_folder_nothing_is_kept) {
  const EngineFile nowhere(storage, {}, job.record);
  nowhere.add(work_of(job, result, "a", "now"));
  BOOST_TEST(nowhere.history().empty());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
