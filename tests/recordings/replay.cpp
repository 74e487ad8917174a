#include "tests/recordings/replay.h"

#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <cstdio>
#include <iterator>

#include "drivers/links/traffic_log.h"
#include "tests/recordings/session.h"

namespace lapwright::recordings {
namespace asio = boost::asio;
namespace {

asio::awaitable<void> feed(Session& session, const std::vector<Traffic>& traffic) {
  for (const Traffic& line : traffic) {
    if (line.mark == '>') continue;  // what was sent is compared, not fed
    co_await session.clock().sleep_until(line.at);
    if (line.mark == '<') session.feed(line.link, line.bytes);
    if (line.mark == '+') session.open(line.link, line.bytes);
    if (line.mark == '-') session.lose(line.link, line.bytes);
  }
}

std::string line_of(Instant at, const std::string& link, const std::string& bytes) {
  char stamp[32];
  std::snprintf(stamp, sizeof stamp, "%.6f ", in_seconds(at.time_since_epoch()));
  return stamp + link + " > " + escaped(bytes);
}

/// Of one link, line by line; the first difference tells most, later ones follow from it.
std::vector<std::string> differences(const Case& given, const std::string& link, const std::vector<Sent>& all) {
  std::vector<Sent> sent;
  std::copy_if(all.begin(), all.end(), std::back_inserter(sent), [&](const Sent& one) { return one.link == link; });
  auto now = sent.begin();
  for (const Traffic& then : given.traffic) {
    if (then.mark != '>' || then.link != link) continue;
    const std::string recorded = line_of(then.at, then.link, then.bytes);
    if (now == sent.end()) return {"recorded: " + recorded, "now:      nothing more"};
    const Duration apart = now->at > then.at ? now->at - then.at : then.at - now->at;
    const bool same = now->bytes == then.bytes && apart <= *given.sends_within;
    if (!same) return {"recorded: " + recorded, "now:      " + line_of(now->at, now->link, now->bytes)};
    ++now;
  }
  if (now == sent.end()) return {};
  return {"recorded: nothing more", "now:      " + line_of(now->at, now->link, now->bytes)};
}

}  // namespace

Replayed replay(const Case& given) {
  Session session(given);
  asio::co_spawn(session.context(), feed(session, given.traffic), [](const std::exception_ptr& failure) {
    if (failure) std::rethrow_exception(failure);
  });
  session.run();
  Replayed result;
  result.protocol = session.protocol();
  if (!given.sends_within) return result;
  for (const char* link : {"board", "station"}) {
    const std::vector<std::string> found = differences(given, link, session.sent());
    result.sent_otherwise.insert(result.sent_otherwise.end(), found.begin(), found.end());
  }
  return result;
}

}  // namespace lapwright::recordings
