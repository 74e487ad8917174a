#include "drivers/simulated/served/fault_switches.h"

#include <charconv>
#include <sstream>
#include <stdexcept>
#include <vector>

namespace lapwright::simulated {
namespace {

constexpr int noise_bytes = 64;

[[noreturn]] void refuse(const std::string& why) { throw std::invalid_argument(why); }

/// The words behind the verb.
class Words {
 public:
  explicit Words(const std::string& text) {
    std::istringstream in(text);
    for (std::string word; in >> word;) words_.push_back(word);
  }
  [[nodiscard]] std::string verb() const { return words_.empty() ? "" : words_.front(); }
  [[nodiscard]] bool has(std::size_t index) const { return index < words_.size(); }
  void at_most(std::size_t count) const {
    if (words_.size() > count + 1) refuse("\"" + verb() + "\" takes fewer words than that");
  }
  [[nodiscard]] std::string word(std::size_t index, const std::string& meaning) const {
    if (!has(index)) refuse("\"" + verb() + "\" needs " + meaning);
    return words_[index];
  }
  [[nodiscard]] double number(std::size_t index, const std::string& meaning, double lowest, double highest) const {
    const std::string text = word(index, meaning);
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    const bool whole = error == std::errc() && end == text.data() + text.size();
    if (!whole || value < lowest || value > highest) refuse("\"" + text + "\" is not " + meaning);
    return value;
  }
  [[nodiscard]] double number_or(std::size_t index, const std::string& meaning, double highest,
                                 double otherwise) const {
    return has(index) ? number(index, meaning, 0, highest) : otherwise;
  }
  [[nodiscard]] bool choice(std::size_t index, const std::string& yes, const std::string& no) const {
    const std::string text = word(index, yes + " or " + no);
    if (text != yes && text != no) refuse("\"" + text + "\" is neither " + yes + " nor " + no);
    return text == yes;
  }

 private:
  std::vector<std::string> words_;
};

constexpr double longest_s = 86400;

}  // namespace

std::string_view FaultSwitches::help() {
  return "unplug LINK [SECONDS], plug LINK, mute LINK [SECONDS], unmute LINK, garbage LINK [BYTES], lose EDGES, "
         "ghost GATE, block GATE on|off, short on|off, weld on|off, stall on|off, derail on|off, jam on|off, silence "
         "on|off, reset [CAUSE], button down|up, status";
}

ServedWire& FaultSwitches::wire(const std::string& name) {
  ServedWire* const wire = rig_.wire(name);
  if (wire == nullptr && name == "board") refuse("this rig has no board");
  if (wire == nullptr) refuse("\"" + name + "\" is no link; there are \"station\" and \"board\"");
  return *wire;
}

BoardEnd& FaultSwitches::board() {
  if (!rig_.board_) refuse("this rig has no board");
  return *rig_.board_;
}

std::string FaultSwitches::obey(const std::string& text) {
  const Words words(text);
  words.at_most(2);
  const std::string verb = words.verb();
  std::string done;
  if (verb == "status") return rig_.status();
  if (verb == "unplug") {
    done = unplug(words.word(1, "a link"), words.number_or(2, "a number of seconds", longest_s, 0));
  } else if (verb == "plug") {
    done = plug(words.word(1, "a link"));
  } else if (verb == "mute" || verb == "unmute") {
    done = mute(words.word(1, "a link"), verb == "mute", words.number_or(2, "a number of seconds", longest_s, 0));
  } else if (verb == "garbage") {
    done =
        garbage(words.word(1, "a link"), static_cast<int>(words.number_or(2, "a number of bytes", 1e6, noise_bytes)));
  } else if (verb == "lose") {
    rig_.edges_to_lose_ = static_cast<int>(words.number(1, "a number of edges", 0, 1e6));
    done = "the next " + std::to_string(rig_.edges_to_lose_) + " edges are lost";
  } else if (verb == "ghost") {
    done = ghost(static_cast<int>(words.number(1, "a gate's number", 1, 64)));
  } else if (verb == "block") {
    done = block(static_cast<int>(words.number(1, "a gate's number", 1, 64)), words.choice(2, "on", "off"));
  } else if (verb == "short") {
    rig_.shorted_ = words.choice(1, "on", "off");
    rig_.switch_track();
    done = rig_.shorted_ ? "the rails are shorted" : "the rails are free";
  } else if (verb == "weld") {
    static_cast<void>(board());  // or refuse
    rig_.welded_ = words.choice(1, "on", "off");
    rig_.switch_track();
    done = rig_.welded_ ? "the relay's contacts are welded" : "the relay opens";
  } else if (verb == "stall") {
    const bool on = words.choice(1, "on", "off");
    rig_.rig_.hold_engine(on);
    done = on ? "the engine is held" : "the engine is let go";
  } else if (verb == "derail") {
    const bool on = words.choice(1, "on", "off");
    rig_.rig_.lift_engine(on);
    done = on ? "the engine touches no rail" : "the engine stands on the rails";
  } else if (verb == "jam") {
    const bool on = words.choice(1, "on", "off");
    rig_.rig_.jam_turnouts(on);
    done = on ? "the turnouts are jammed" : "the turnouts move";
  } else if (verb == "silence") {
    rig_.silent_ = words.choice(1, "on", "off");
    done = rig_.silent_ ? "the station is silent" : "the station speaks";
  } else if (verb == "reset") {
    done = reset(words.has(1) ? words.word(1, "") : "e");
  } else if (verb == "button") {
    const bool down = words.choice(1, "down", "up");
    board().press_button(down);
    done = down ? "the button is pressed" : "the button is up";
  } else {
    refuse("\"" + verb + "\" is not understood; there are " + std::string(help()));
  }
  rig_.note_(done);
  return done;
}

std::string FaultSwitches::unplug(const std::string& link, double seconds_away) {
  wire(link).unplug();
  rig_.plug_at_.erase(link);
  if (seconds_away > 0) rig_.plug_at_[link] = rig_.clock_.now() + seconds(seconds_away);
  return link + " unplugged";
}

std::string FaultSwitches::plug(const std::string& link) {
  wire(link).plug();
  rig_.plug_at_.erase(link);
  return link + " plugged in";
}

std::string FaultSwitches::mute(const std::string& link, bool on, double seconds_long) {
  wire(link).mute(on);
  rig_.unmute_at_.erase(link);
  if (on && seconds_long > 0) rig_.unmute_at_[link] = rig_.clock_.now() + seconds(seconds_long);
  return link + (on ? " muted" : " unmuted");
}

std::string FaultSwitches::garbage(const std::string& link, int bytes) {
  std::string noise;
  for (int i = 0; i < bytes; ++i) noise += static_cast<char>(rig_.luck_.next() & 0xFFU);
  wire(link).say(noise);
  return std::to_string(bytes) + " bytes of noise from " + link;
}

void FaultSwitches::check_gate(int gate) const {
  const auto gates = static_cast<int>(rig_.description_.railway.gates.size());
  if (gate > gates) refuse("there is no gate " + std::to_string(gate) + ", there are " + std::to_string(gates));
}

std::string FaultSwitches::block(int gate, bool on) {
  check_gate(gate);
  rig_.report(gate - 1, on, Duration{});
  return std::string(on ? "something stands in" : "nothing stands in") + " gate " + std::to_string(gate);
}

std::string FaultSwitches::ghost(int gate) {
  check_gate(gate);
  constexpr Duration moment = std::chrono::milliseconds(40);
  rig_.report(gate - 1, true, moment);
  rig_.report(gate - 1, false, Duration{});
  return "gate " + std::to_string(gate) + " saw a ghost";
}

std::string FaultSwitches::reset(const std::string& cause) {
  if (cause.size() != 1 || std::string("pebw").find(cause) == std::string::npos) {
    refuse("\"" + cause + "\" is no cause of a reset; there are p, e, b and w");
  }
  board().boot(cause.front());
  return "board reset";
}

}  // namespace lapwright::simulated
