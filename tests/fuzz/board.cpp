// The trackside board's driver under any lines, with operations outstanding. A line of the input goes to the driver
// as it is, with two helps for mutations: `*=` at its end becomes the right check sum, `@@` the number of the host's
// last line. Lines that begin with `!` say what happens besides, letter by letter:
//   t 20 ms pass   s 1 s passes   p power on   o power off   e an edge is waited for   c cut   x the link is lost
//   q its queue is full   a from now on every line is answered with ok, or no longer   n 25 unreadable lines
#include "drivers/trackside/board.h"

#include <algorithm>
#include <optional>

#include "tests/fuzz/board_text.h"
#include "tests/fuzz/property.h"
#include "tests/fuzz/wire.h"

namespace lapwright::fuzz {
namespace asio = boost::asio;
namespace {

/// Closing takes three questions of three tries each and a look at the relay, each after somebody else's.
constexpr Duration longest = std::chrono::seconds(10);

/// Of virtual time; lines that follow are left out, as are letters beyond a hundred: waiting tells nothing new.
constexpr Duration longest_play = std::chrono::seconds(30);

const std::string unreadable = [] {
  std::string lines;
  for (int line = 0; line < 25; ++line) lines += "\x80\n";
  return lines;
}();

trackside::BoardWish wish() {
  trackside::BoardWish result;
  result.serial = "QT-0001";
  result.settings = {{"gates", "2"}, {"trip_mA", "2000"}};
  result.gates = {1, 3};
  return result;
}

class Line final : public Wire {
 public:
  explicit Line(std::string_view input) : Wire(longest), input_(input) {}
  using Wire::run;

 private:
  LinkUser& user() override { return board_; }
  asio::awaitable<void> serve() override { return board_.run(); }
  void stop() override { board_.stop(); }
  asio::awaitable<void> play() override;
  asio::awaitable<void> act(char kind);
  asio::awaitable<void> close();
  asio::awaitable<void> see_an_edge();
  void begun_anew() override { said_.begin_anew(); }
  void went(std::string_view bytes) override;
  void answer();
  [[nodiscard]] std::string completed(std::string_view line) const;

  std::string_view input_;
  trackside::Board board_{wish(), clock()};
  trackside::LineReader said_;
  std::uint8_t last_ = 0;  ///< number of the host's last line
  bool answers_ = false;
  bool asked_ = false;
};

std::string Line::completed(std::string_view line) const {
  std::string text(line);
  const std::size_t at = text.find("@@");
  if (at != std::string::npos) {
    std::array<char, 4> digits{};
    std::snprintf(digits.data(), digits.size(), "%02X", static_cast<unsigned>(last_));
    text.replace(at, 2, digits.data());
  }
  return with_sum(text);
}

asio::awaitable<void> Line::play() {
  const Instant over = clock().now() + longest_play;
  while (!input_.empty() && clock().now() < over) {
    const std::size_t end = input_.find('\n');
    const std::string_view line = input_.substr(0, end);
    input_.remove_prefix(end == std::string_view::npos ? input_.size() : end + 1);
    if (line.starts_with('!')) {
      for (const char kind : line.substr(1, 100)) co_await act(kind);
    } else {
      tell(completed(line) + (end == std::string_view::npos ? "" : "\n"));
      co_await pass(std::chrono::milliseconds(1));
    }
  }
  answers_ = false;
  co_await finish();
}

asio::awaitable<void> Line::act(char kind) {
  Duration length{};
  if (kind == 't') length = std::chrono::milliseconds(20);
  if (kind == 's') length = std::chrono::seconds(1);
  if (kind == 'p') begin(close());
  if (kind == 'o') begin(board_.set_power(false));
  if (kind == 'e') begin(see_an_edge());
  if (kind == 'c') board_.cut();
  if (kind == 'x') unplug();
  if (kind == 'q') fill_queue();
  if (kind == 'a') answers_ = !answers_;
  if (kind == 'n') tell(unreadable);
  const Instant end = clock().now() + length;
  const Duration step = answers_ ? std::chrono::milliseconds(2) : length;
  do {
    co_await pass(std::min<Duration>(end - clock().now(), step));
    answer();
    if (answers_) board_.vouch();
  } while (clock().now() < end);
}

asio::awaitable<void> Line::close() {
  co_await board_.set_power(true);
  property(board_.state() && board_.state()->relay_closed, "power is on when the board said that its relay is closed");
  property(board_.trouble().empty(), "only the right board with the right settings is energised");
}

asio::awaitable<void> Line::see_an_edge() {
  const Instant deadline = clock().now() + std::chrono::seconds(3);
  const std::optional<GateEdge> edge = co_await board_.next_edge(deadline);
  if (edge) property(edge->gate == 0 || edge->gate == 1, "an edge is of one of the track's gates");
}

/// As the board would, in good order.
void Line::answer() {
  if (!std::exchange(asked_, false) || !answers_) return;
  tell(completed("a 00 @@ ok 00001000*=") + "\n");
}

void Line::went(std::string_view bytes) {
  if (bytes == std::string_view(&trackside::cut_byte, 1)) return;
  said_.feed(bytes);
  property(bytes.ends_with('\n') && said_.counts().bad == 0, "whole lines go out");
  while (const auto line = said_.next()) {
    last_ = line->sequence;
    asked_ = true;
    property(std::string_view("LPCI").find(line->kind) != std::string_view::npos, "lines of the protocol go out");
    const bool closes = line->kind == 'P' && line->fields == std::vector<std::string>{"1"};
    property(!closes || board_.trouble().empty(), "only the right board with the right settings is told to close");
  }
}

}  // namespace
}  // namespace lapwright::fuzz

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace lapwright::fuzz;
  Line(text(data, size)).run();
  return 0;
}
