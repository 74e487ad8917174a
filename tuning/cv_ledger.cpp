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
  if (held == value && !memory_.unconfirmed.contains(cv)) co_return;
  CvWriteReply reply = CvWriteReply::refused;
  for (int attempt = 0; attempt < tries; ++attempt) {
    memory_.note_sending(cv);
    if (notes_ != nullptr) notes_->sending(cv, value);
    reply = co_await rig.write_cv(cv, value);
    memory_.note_sent(cv, value, reply);
    if (notes_ != nullptr) notes_->sent(cv, value, reply);
    if (reply == CvWriteReply::confirmed || (reply == CvWriteReply::silent && !memory_.talks)) break;
  }
  if (reply == CvWriteReply::refused) throw CvRefused(cv, value, false);
}

asio::awaitable<CvWriteReply> CvLedger::set_bit(Rig& rig, int cv, int bit) {
  memory_.note_sending(cv);
  if (notes_ != nullptr) notes_->sending_bit(cv, bit, true);
  const CvWriteReply reply = co_await rig.write_cv_bit(cv, bit, true);
  co_return reply;
}

asio::awaitable<void> CvLedger::lend(Rig& rig, int cv, std::uint8_t value, std::uint8_t original) {
  if (value != original) {  // noted before the write: a write under way may be taken
    memory_.note_owed(cv, original);
    if (notes_ != nullptr) notes_->owed(cv, original);
  }
  co_await write(rig, cv, value);
}

asio::awaitable<void> CvLedger::settle(Rig& rig) {
  std::optional<CvRefused> first_refusal;
  const CvValues debts = memory_.owed;
  for (const auto& [cv, value] : debts) {
    try {
      co_await write(rig, cv, value);
      if (memory_.unconfirmed.contains(cv)) throw CvRefused(cv, value, true);
      memory_.note_paid(cv);
      if (notes_ != nullptr) notes_->paid(cv);
    } catch (const CvRefused& refusal) {  // the other debts can still be paid
      if (!first_refusal) first_refusal = refusal;
    }
  }
  if (first_refusal) throw *first_refusal;
}

std::optional<std::uint8_t> CvLedger::known(int cv) const {
  if (const auto written = memory_.written.find(cv); written != memory_.written.end()) return written->second;
  if (const auto found = memory_.found.find(cv); found != memory_.found.end()) return found->second;
  return std::nullopt;
}

void CvLedger::forget_indexed() {
  const auto indexed = [](const auto& each) { return each.first > 256 && each.first <= 512; };
  std::erase_if(memory_.found, indexed);
  std::erase_if(memory_.written, indexed);
}

void CvLedger::found(int cv, std::uint8_t value) {
  memory_.note_found(cv, value);
  if (notes_ != nullptr) notes_->found(cv, value);
}

}  // namespace lapwright
