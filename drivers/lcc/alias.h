// The 12-bit names that nodes bear on one CAN segment: how to choose one, and whose is whose.
#pragma once

#include <cstdint>
#include <map>
#include <optional>

#include "drivers/lcc/identity.h"

namespace lapwright::lcc {

using Alias = std::uint16_t;  ///< 1 … 0xFFF

/// The generator that the CAN Frame Transfer Standard recommends (6.3): 48 bits of state, seeded with the node ID.
class AliasGenerator {
 public:
  explicit AliasGenerator(NodeId node) : state_(node.value) {}
  /// The next one that is not 0.
  [[nodiscard]] Alias next();

 private:
  std::uint64_t state_;
};

/// Who bears which alias, as far as was heard. All that is remembered of a node is kept by its ID.
class AliasBook {
 public:
  void note(Alias alias, NodeId node);
  void forget(Alias alias);
  void forget_all();
  /// An enquiry for all: whoever is still there answers. Until then what comes from an alias is believed to come from
  /// the node that bore it, and nothing is sent to it.
  void doubt_all();
  [[nodiscard]] std::optional<NodeId> node(Alias alias) const;
  [[nodiscard]] std::optional<Alias> alias(NodeId node) const;

 private:
  std::map<Alias, NodeId> nodes_;  ///< those in doubt too
  std::map<NodeId, Alias> aliases_;
};

}  // namespace lapwright::lcc
