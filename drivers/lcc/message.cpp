#include "drivers/lcc/message.h"

#include <algorithm>
#include <stdexcept>

namespace lapwright::lcc {
namespace {

// Bits of a header: CAN Frame Transfer Standard 4, Message Network Standard 7.3.1.
constexpr std::uint32_t reserved_bit = 0x10000000;  // sent as 1, ignored when read
constexpr std::uint32_t message_bit = 0x08000000;
constexpr unsigned format_shift = 24;
constexpr unsigned middle_shift = 12;
constexpr unsigned global_or_addressed = 1, datagram_only = 2, datagram_first = 3, datagram_middle = 4,
                   datagram_last = 5;
constexpr unsigned first_flag = 0x10, last_flag = 0x20;  // in the high nibble before an addressed message's destination
constexpr std::size_t most_content_of_a_frame = 6;       // behind the destination
constexpr std::size_t most_of_a_datagram = 72;           // Datagram Transport Standard 7.1
constexpr std::size_t most_of_a_message = 256;           // node information is the longest that is taken, with 253
constexpr std::size_t most_unfinished = 64;
constexpr Duration longest_to_finish = std::chrono::seconds(3);

unsigned format(const Frame& frame) { return (frame.header >> format_shift) & 7U; }
Alias middle(const Frame& frame) { return static_cast<Alias>((frame.header >> middle_shift) & 0xFFFU); }

std::uint32_t header(unsigned form, unsigned middle_bits, Alias source) {
  return reserved_bit | message_bit | form << format_shift | middle_bits << middle_shift | source;
}

std::vector<Frame> datagram_frames(const Message& message) {
  if (message.content.size() > most_of_a_datagram) throw std::invalid_argument("a datagram holds at most 72 bytes");
  std::vector<Frame> frames;
  std::span<const std::uint8_t> rest = message.content;
  do {
    const bool first = frames.empty();
    const auto piece = rest.first(std::min<std::size_t>(rest.size(), 8));
    rest = rest.subspan(piece.size());
    const bool last = rest.empty();
    unsigned form = first ? datagram_first : datagram_middle;
    if (last) form = first ? datagram_only : datagram_last;
    frames.push_back(make_frame(header(form, message.destination, message.source), piece));
  } while (!rest.empty());
  return frames;
}

std::vector<Frame> addressed_frames(const Message& message) {
  std::vector<Frame> frames;
  std::span<const std::uint8_t> rest = message.content;
  const unsigned type = static_cast<unsigned>(message.mti) & 0xFFFU;
  do {
    const bool first = frames.empty();
    const auto piece = rest.first(std::min(rest.size(), most_content_of_a_frame));
    rest = rest.subspan(piece.size());
    const bool last = rest.empty();
    unsigned flags = 0;
    if (!(first && last)) flags = first ? first_flag : (last ? last_flag : first_flag | last_flag);
    std::vector<std::uint8_t> bytes = {static_cast<std::uint8_t>(flags | message.destination >> 8U),
                                       static_cast<std::uint8_t>(message.destination)};
    bytes.insert(bytes.end(), piece.begin(), piece.end());
    frames.push_back(make_frame(header(global_or_addressed, type, message.source), bytes));
  } while (!rest.empty());
  return frames;
}

}  // namespace

std::optional<ControlFrame> control(const Frame& frame) {
  if ((frame.header & message_bit) != 0) return std::nullopt;
  ControlFrame result;
  result.source = frame.source();
  result.node = NodeId::from(frame.data());
  const unsigned variable = (frame.header >> middle_shift) & 0x7FFFU;
  if (format(frame) >= 4) {
    result.kind = Control::check_id;
  } else if (variable == 0x0700) {
    result.kind = Control::reserve_id;
  } else if (variable == 0x0701) {
    result.kind = Control::alias_map_definition;
  } else if (variable == 0x0702) {
    result.kind = Control::alias_map_enquiry;
  } else if (variable == 0x0703) {
    result.kind = Control::alias_map_reset;
  }
  return result;
}

std::vector<Frame> frames_of(const Message& message) {
  if (message.mti == Mti::datagram) return datagram_frames(message);
  if (is_addressed(message.mti)) return addressed_frames(message);
  const unsigned type = static_cast<unsigned>(message.mti) & 0xFFFU;
  return {make_frame(header(global_or_addressed, type, message.source), message.content)};
}

void MessageReader::forget(Alias source) {
  std::erase_if(unfinished_, [source](const auto& held) { return std::get<0>(held.first) == source; });
}

void MessageReader::forget_old(Instant now) {
  dropped_ +=
      std::erase_if(unfinished_, [now](const auto& held) { return now - held.second.begun > longest_to_finish; });
}

std::optional<Message> MessageReader::add(const Key& key, Piece piece, std::span<const std::uint8_t> bytes,
                                          std::size_t most, Instant now) {
  forget_old(now);
  const auto held = unfinished_.find(key);
  const bool begins = piece == Piece::only || piece == Piece::first;
  if (begins == (held != unfinished_.end())) {  // an end without a beginning, or a beginning before the end
    ++dropped_;
    if (!begins) return std::nullopt;
    unfinished_.erase(held);
  }
  Part part;
  part.begun = now;
  if (!begins) part = std::move(held->second);
  part.content.insert(part.content.end(), bytes.begin(), bytes.end());
  unfinished_.erase(key);
  if (part.content.size() > most) {
    ++dropped_;
    return std::nullopt;
  }
  if (piece == Piece::first || piece == Piece::middle) {
    if (unfinished_.size() == most_unfinished) {
      ++dropped_;
      return std::nullopt;
    }
    unfinished_[key] = std::move(part);
    return std::nullopt;
  }
  const auto& [source, destination, mti] = key;
  return Message{mti, source, destination, std::move(part.content)};
}

std::optional<Message> MessageReader::take(const Frame& frame, Instant now) {
  if ((frame.header & message_bit) == 0) return std::nullopt;
  const unsigned form = format(frame);
  if (form >= datagram_only && form <= datagram_last) {
    const std::array<Piece, 4> pieces = {Piece::only, Piece::first, Piece::middle, Piece::last};
    return add({frame.source(), middle(frame), Mti::datagram}, pieces[form - datagram_only], frame.data(),
               most_of_a_datagram, now);
  }
  if (form != global_or_addressed) return std::nullopt;
  const auto mti = static_cast<Mti>(middle(frame));
  if (!is_addressed(mti)) return Message{mti, frame.source(), 0, {frame.data().begin(), frame.data().end()}};
  if (frame.size < 2) {
    ++dropped_;
    return std::nullopt;
  }
  const unsigned flags = frame.bytes[0];
  const auto destination = static_cast<Alias>((flags & 0x0FU) << 8U | frame.bytes[1]);
  const bool not_last = (flags & first_flag) != 0;
  const bool not_first = (flags & last_flag) != 0;
  Piece piece = not_first ? Piece::last : Piece::only;
  if (not_last) piece = not_first ? Piece::middle : Piece::first;
  return add({frame.source(), destination, mti}, piece, frame.data().subspan(2), most_of_a_message, now);
}

}  // namespace lapwright::lcc
