// The CVs of a simulated decoder: which exist, which can be changed, and what changing one does to others.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <utility>

namespace lapwright::simulated {

struct DecoderDescription;

inline constexpr int long_address_high = 17;
inline constexpr int long_address_low = 18;
inline constexpr std::uint8_t long_address_bit = 0x20;  ///< of CV29

/// CV 1 … 256 exist, and CV257 … 512 of the pages that the description names, all 0 at first. Rules from NMRA S-9.2.2,
/// S-9.2.3 and RCN-225.
class DecoderMemory {
 public:
  static constexpr int top_cv = 256;
  static constexpr int top_indexed_cv = 512;
  /// Throws std::invalid_argument when the description names a CV that does not exist.
  explicit DecoderMemory(const DecoderDescription& description);

  [[nodiscard]] std::uint8_t get(int cv) const;  ///< 0 where nothing is stored
  [[nodiscard]] bool bit(int cv, int place) const { return ((get(cv) >> place) & 1) != 0; }
  [[nodiscard]] std::uint8_t answered(int cv) const;  ///< as `get`, but a CV17 that waits for its CV18 is shown
  /// Of an indexed CV: on the page that CV31 and CV32 point at.
  [[nodiscard]] bool exists(int cv) const { return (cv >= 1 && cv <= top_cv) || indexed(cv) != nullptr; }
  [[nodiscard]] bool locked() const;  ///< CV15 and CV16 differ: nothing but CV15 can be changed

  /// As in operations mode: CV7 and CV8 stay, CV17 waits for CV18.
  void write(int cv, std::uint8_t value);
  /// As on the programming track: CV17 acts at once, and 8 written to CV8 restores the factory values.
  void write_on_bench(int cv, std::uint8_t value);
  void set_consist(std::uint8_t cv19, std::uint8_t cv20);
  /// CV29, 31 and 32 to their factory values and out of the consist (S-9.2.1 §2.3.1.1).
  void hard_reset();
  /// What is only remembered while there is power.
  void forget_volatile() { waiting_cv17_.reset(); }

 private:
  using Values = std::array<std::uint8_t, top_cv + 1>;
  using Pages = std::map<std::pair<int, int>, std::array<std::uint8_t, top_indexed_cv - top_cv>>;
  [[nodiscard]] const std::uint8_t* indexed(int cv) const;
  [[nodiscard]] bool held_fast(int cv) const;
  [[nodiscard]] std::uint8_t possible(int cv, std::uint8_t value) const;
  void store(int cv, std::uint8_t value);

  bool address_writes_;
  std::uint8_t configuration_mask_;  // bits of CV29 whose features exist
  std::uint8_t reply_mask_;          // the same of CV28
  Values factory_{};
  Values values_{};
  Pages pages_;
  std::optional<std::uint8_t> waiting_cv17_;
};

}  // namespace lapwright::simulated
