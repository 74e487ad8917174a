#include "drivers/simulated/decoder_memory.h"

#include <stdexcept>
#include <string>

#include "drivers/dcc/address.h"
#include "drivers/simulated/decoder_description.h"
#include "tuning/cv.h"

namespace lapwright::simulated {
namespace {

constexpr int lock_key = 15;
constexpr int lock_number = 16;
constexpr int long_consist_address = 20;
constexpr int reply_configuration = 28;

constexpr std::uint8_t factory_reset_key = 8;

void set(std::array<std::uint8_t, DecoderMemory::top_cv + 1>& values, int cv, int value) {
  values[static_cast<std::size_t>(cv)] = static_cast<std::uint8_t>(value);
}

bool read_only(int cv) { return cv == cv::maker_version || cv == cv::maker_id; }

}  // namespace

DecoderMemory::DecoderMemory(const DecoderDescription& description)
    : address_writes_(description.address_writes),
      configuration_mask_(static_cast<std::uint8_t>(0x27 | (description.answers_reads ? 0x08 : 0) |
                                                    (description.table_implemented ? 0x10 : 0))),
      reply_mask_(description.answers_reads ? 0x03 : 0x00) {
  // Defaults of the standard where it has any (CV1, CV17/18), otherwise values that are usual (common practice, no
  // source): some momentum, and a table that rises evenly.
  set(factory_, cv::address, 3);
  set(factory_, cv::start_voltage, 3);
  set(factory_, cv::acceleration, 3);
  set(factory_, cv::deceleration, 3);
  set(factory_, cv::top_voltage, 255);
  set(factory_, cv::maker_version, 1);
  set(factory_, cv::maker_id, 13);
  set(factory_, long_address_high, 195);
  set(factory_, long_address_low, 232);
  set(factory_, reply_configuration, reply_mask_);
  set(factory_, cv::configuration, description.answers_reads ? 0x0A : 0x02);
  set(factory_, cv::forward_trim, description.trims_act ? 128 : 0);
  set(factory_, cv::reverse_trim, description.trims_act ? 128 : 0);
  for (int entry = 1; entry <= cv::table_entries; ++entry) {
    set(factory_, cv::table_entry(entry), (255 * entry + cv::table_entries / 2) / cv::table_entries);
  }
  values_ = factory_;
  for (const std::pair<int, int>& page : description.pages) pages_[page] = {};
  for (const auto& [cv, value] : description.cvs) {
    if (cv < 1 || cv > top_cv) {
      throw std::invalid_argument("simulated decoder: CV" + std::to_string(cv) +
                                  " does not exist; name CV1 … CV256 only");
    }
    set(values_, cv, possible(cv, value));
  }
}

const std::uint8_t* DecoderMemory::indexed(int cv) const {
  if (cv <= top_cv || cv > top_indexed_cv) return nullptr;
  const auto page = pages_.find({get(cv::index_high), get(cv::index_low)});
  return page == pages_.end() ? nullptr : &page->second[static_cast<std::size_t>(cv - top_cv - 1)];
}

std::uint8_t DecoderMemory::get(int cv) const {
  if (cv >= 1 && cv <= top_cv) return values_[static_cast<std::size_t>(cv)];
  const std::uint8_t* value = indexed(cv);
  return value == nullptr ? std::uint8_t{0} : *value;
}

std::uint8_t DecoderMemory::answered(int cv) const {
  return cv == long_address_high && waiting_cv17_ ? *waiting_cv17_ : get(cv);
}

bool DecoderMemory::locked() const { return get(lock_key) != get(lock_number); }

std::uint8_t DecoderMemory::possible(int cv, std::uint8_t value) const {
  if (cv == cv::configuration) return value & configuration_mask_;  // a bit without its feature can't be set
  if (cv == reply_configuration) return value & reply_mask_;
  return value;
}

bool DecoderMemory::held_fast(int cv) const { return !exists(cv) || read_only(cv) || (locked() && cv != lock_key); }

void DecoderMemory::write(int cv, std::uint8_t value) {
  if (held_fast(cv) || (cv::is_address(cv) && !address_writes_)) return;
  if (cv == cv::configuration && !address_writes_) {
    const int kept = get(cv) & long_address_bit;
    value = static_cast<std::uint8_t>((value & ~long_address_bit) | kept);
  }
  if (cv == long_address_high) {
    // Half an address would make the decoder unreachable: the pair acts when CV18 comes (S-9.2.1:2012, footnote).
    if (value >= 192 && value <= 231) waiting_cv17_ = value;
    return;
  }
  if (cv == long_address_low) {
    const dcc::LongAddressCvs both{answered(long_address_high), value};
    if (!dcc::from_cv17_18(both)) return;
    set(values_, long_address_high, both.cv17);
    waiting_cv17_.reset();
  }
  store(cv, value);
}

void DecoderMemory::write_on_bench(int cv, std::uint8_t value) {
  if (cv == cv::maker_id && value == factory_reset_key && !locked()) {
    values_ = factory_;
    for (auto& [index, page] : pages_) page = {};
    waiting_cv17_.reset();
    return;
  }
  if (held_fast(cv)) return;
  if (cv == long_address_high && (value < 192 || value > 231)) return;
  store(cv, value);
}

void DecoderMemory::store(int cv, std::uint8_t value) {
  if (cv == cv::address) {
    if (value < 1 || value > dcc::VehicleAddress::top_short) return;
    // S-9.2.3 l. 143-145: a new short address comes into force, whatever was in force before.
    set(values_, cv::configuration, get(cv::configuration) & ~long_address_bit);
    set_consist(0, 0);
  }
  if (cv > top_cv) {
    const std::pair<int, int> page{get(cv::index_high), get(cv::index_low)};
    pages_.at(page)[static_cast<std::size_t>(cv - top_cv - 1)] = value;
    return;
  }
  set(values_, cv, possible(cv, value));
}

void DecoderMemory::set_consist(std::uint8_t cv19, std::uint8_t cv20) {
  set(values_, cv::consist_address, cv19);
  set(values_, long_consist_address, cv20);
}

void DecoderMemory::hard_reset() {
  for (const int cv : {cv::configuration, cv::index_high, cv::index_low})
    set(values_, cv, factory_[static_cast<std::size_t>(cv)]);
  set_consist(0, 0);
}

}  // namespace lapwright::simulated
