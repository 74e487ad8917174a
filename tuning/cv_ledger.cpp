#include "tuning/cv_ledger.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr int tries = 3;

}  // namespace

CvRefused::CvRefused(int cv, std::uint8_t value, bool silent)
    : std::runtime_error("the decoder does not take CV" + std::to_string(cv) + " = " + std::to_string(value) +
                         (silent ? ": it answered before and says nothing now. Look whether it still has power and "
                                   "good contact with the rails"
                                 : ": it answers with another value. Check the decoder lock (CV15/16) and the "
                                   "decoder's manual")) {}

asio::awaitable<void> CvLedger::write(Rig& rig, int cv, std::uint8_t value) {
  const std::optional<std::uint8_t> held = known(cv);
  if (held == value && !unconfirmed_.contains(cv)) co_return;
  bool taken = false;
  bool confirmed = false;
  for (int attempt = 0; attempt < tries; ++attempt) {
    ++writes_;
    written_.erase(cv);  // until the write is through, the value is not known,
    found_.erase(cv);    // and what was found before is certainly old
    const CvWriteReply reply = co_await rig.write_cv(cv, value);
    talks_ = talks_ || reply == CvWriteReply::refused || reply == CvWriteReply::confirmed;
    taken = reply != CvWriteReply::refused;
    confirmed = reply == CvWriteReply::confirmed;
    if (confirmed || (taken && !talks_)) break;
  }
  if (!taken) throw CvRefused(cv, value, false);
  written_[cv] = value;
  unconfirmed_.erase(cv);
  if (talks_ && !confirmed) unconfirmed_.insert(cv);
}

asio::awaitable<void> CvLedger::lend(Rig& rig, int cv, std::uint8_t value, std::uint8_t original) {
  if (value != original) owed_.emplace(cv, original);  // noted before the write: a write under way may be taken
  co_await write(rig, cv, value);
}

asio::awaitable<void> CvLedger::settle(Rig& rig) {
  std::optional<CvRefused> first_refusal;
  const std::map<int, std::uint8_t> debts = owed_;
  for (const auto& [cv, value] : debts) {
    try {
      co_await write(rig, cv, value);
      if (unconfirmed_.contains(cv)) throw CvRefused(cv, value, true);
      owed_.erase(cv);
    } catch (const CvRefused& refusal) {  // the other debts can still be paid
      if (!first_refusal) first_refusal = refusal;
    }
  }
  if (first_refusal) throw *first_refusal;
}

std::optional<std::uint8_t> CvLedger::known(int cv) const {
  if (const auto written = written_.find(cv); written != written_.end()) return written->second;
  if (const auto found = found_.find(cv); found != found_.end()) return found->second;
  return std::nullopt;
}

void CvLedger::found(int cv, std::uint8_t value) { found_[cv] = value; }

}  // namespace lapwright
