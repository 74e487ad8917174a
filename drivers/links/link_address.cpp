#include "drivers/links/link_address.h"

namespace lapwright {
namespace {

struct Text {
  std::string operator()(const SerialAddress& address) const { return address.device; }
  std::string operator()(const TcpAddress& address) const { return address.host + ":" + std::to_string(address.port); }
};

}  // namespace

std::string text(const LinkAddress& address) { return std::visit(Text{}, address); }

}  // namespace lapwright
