#include "daemon/rig/rig_service.h"

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <csignal>
#include <cstdio>
#include <list>
#include <stdexcept>

#include "daemon/control_socket.h"
#include "daemon/exit_codes.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

class RigService final : public LineDesk {
 public:
  explicit RigService(const RigFile& file)
      : signals_(context_, SIGTERM, SIGINT), control_(context_, file.control_socket, *this) {
    for (const auto& description : file.rigs) {
      const std::string name = description.name;
      rigs_.emplace_back(description, context_, [this, name](const std::string& what) { say(name, what); });
    }
  }

  int run() {
    signals_.async_wait([this](const boost::system::error_code& error, int) {
      if (!error) stop();
    });
    for (auto& rig : rigs_) {
      rig.start(context_);
      say(rig.name(), rig.where());
    }
    context_.run();
    return exit_ok;
  }

  /// "RIG words"; with one rig its name may be left out.
  asio::awaitable<Answer> answer(std::string line) override {
    Answer said;
    said.line = obey(line);
    co_return said;
  }

 private:
  std::string obey(const std::string& line) {
    const std::size_t gap = line.find(' ');
    const std::string first = line.substr(0, gap);
    try {
      for (auto& rig : rigs_) {
        if (rig.name() == first && gap != std::string::npos) return tell(rig, line.substr(gap + 1));
      }
      if (rigs_.size() == 1) return tell(rigs_.front(), line);
    } catch (const std::invalid_argument& refused) {
      return std::string("refused: ") + refused.what();
    }
    return "refused: \"" + first + "\" is no rig of this file; begin with the name of one";
  }

  std::string tell(simulated::ServedRig& rig, const std::string& words) {
    say(rig.name(), "told " + words);  // first: what it does is said after it
    return rig.tell(words);
  }

  void say(const std::string& rig, const std::string& what) {
    const double passed_s = in_seconds(clock_.now() - start_);
    std::printf("%.6f %s: %s\n", passed_s, rig.c_str(), what.c_str());
    std::fflush(stdout);
  }

  void stop() {
    control_.close();
    for (auto& rig : rigs_) rig.stop();
  }

  RealClock clock_;
  Instant start_ = clock_.now();
  asio::io_context context_;
  asio::signal_set signals_;
  std::list<simulated::ServedRig> rigs_;
  ControlSocket control_;
};

}  // namespace

int serve_rigs(const RigFile& file) {
  RigService service(file);
  return service.run();
}

}  // namespace lapwright
