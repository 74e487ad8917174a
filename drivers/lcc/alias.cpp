#include "drivers/lcc/alias.h"

namespace lapwright::lcc {
namespace {

constexpr std::uint64_t state_mask = 0xFFFFFFFFFFFF;
constexpr std::uint64_t step_constant = 0x1B0CA37A4BA9;

}  // namespace

Alias AliasGenerator::next() {
  for (;;) {
    state_ = (state_ * 513 + step_constant) & state_mask;
    const std::uint64_t folded = state_ ^ state_ >> 12U ^ state_ >> 24U ^ state_ >> 36U;
    const auto alias = static_cast<Alias>(folded & 0xFFFU);
    if (alias != 0) return alias;
  }
}

void AliasBook::note(Alias alias, NodeId node) {
  forget(alias);
  std::erase_if(nodes_, [node](const auto& held) { return held.second == node; });
  nodes_[alias] = node;
  aliases_[node] = alias;
}

void AliasBook::forget(Alias alias) {
  const auto held = nodes_.find(alias);
  if (held == nodes_.end()) return;
  aliases_.erase(held->second);
  nodes_.erase(held);
}

void AliasBook::doubt_all() { aliases_.clear(); }

void AliasBook::forget_all() {
  nodes_.clear();
  aliases_.clear();
}

std::optional<NodeId> AliasBook::node(Alias alias) const {
  const auto held = nodes_.find(alias);
  return held == nodes_.end() ? std::nullopt : std::optional(held->second);
}

std::optional<Alias> AliasBook::alias(NodeId node) const {
  const auto held = aliases_.find(node);
  return held == aliases_.end() ? std::nullopt : std::optional(held->second);
}

}  // namespace lapwright::lcc
