#include "daemon/wanted_cvs.h"

#include "drivers/safety/guard_limits.h"
#include "tuning/cv.h"

namespace lapwright {
namespace {

/// The address goes in last and by itself, the index pointers with their pages; maker and version can't be written.
bool apart(int number) {
  return cv::is_address(number) || number == cv::maker_version || number == cv::maker_id || number == cv::index_high ||
         number == cv::index_low;
}

/// A tune decides it.
bool tuned(int number) {
  return number == cv::start_voltage || number == cv::top_voltage || number == cv::mid_voltage ||
         number == cv::configuration || (number >= cv::forward_trim && number <= cv::reverse_trim);
}

}  // namespace

WantedCvs wanted_cvs(const EngineRecord& record, const KnownEngine& known) {
  WantedCvs wanted;
  wanted.plain = known.cvs;
  for (const auto& [number, value] : known.owed) wanted.plain[number] = value;
  for (const auto& [number, value] : record.cvs) {
    if (!tuned(number) || !wanted.plain.contains(number)) wanted.plain[number] = value;
  }
  std::erase_if(wanted.plain, [](const auto& each) { return apart(each.first); });
  // A tune means nothing while the table is off.
  const auto configuration = wanted.plain.find(cv::configuration);
  wanted.table = wanted.plain.contains(cv::table_entry(1));
  if (wanted.table && configuration != wanted.plain.end()) configuration->second |= 1U << cv::table_bit;
  wanted.pages = record.pages;
  return wanted;
}

std::set<int> cvs_of_a_restore(const WantedCvs& wanted) {
  std::set<int> allowed = cvs_of_a_tune();
  allowed.insert({cv::address, cv::long_address_high, cv::long_address_low});
  for (const auto& [number, value] : wanted.plain) allowed.insert(number);
  for (const IndexedPage& page : wanted.pages) {
    allowed.insert({cv::index_high, cv::index_low});
    for (const auto& [number, value] : page.cvs) allowed.insert(number);
  }
  return allowed;
}

}  // namespace lapwright
