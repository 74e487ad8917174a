// Runs jobs in processes of their own, a few at a time, and collects the text that each of them returns.
#pragma once

#include <functional>
#include <string>
#include <vector>

namespace lapwright::bench {

/// Calls `job(0 … count-1)`, each in a forked process. @return the jobs' texts in their order
/// @throws std::runtime_error  naming the job that failed and what it said
[[nodiscard]] std::vector<std::string> run_in_processes(std::size_t count, int at_a_time,
                                                        const std::function<std::string(std::size_t)>& job);

}  // namespace lapwright::bench
