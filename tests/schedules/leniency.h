// What the product is known not to do yet: each line makes the judges look away, and goes once it does.
#pragma once

namespace lapwright::schedules::lenient {

/// A write that was under way when the rails went dead counts as done, and its debt as paid.
inline constexpr bool write_on_dead_rails = true;
/// Silence of a decoder that does answer counts as success, and its debt as paid.
inline constexpr bool silence_of_a_talker = true;
/// A beam that bounces when an engine comes is taken for one that flickers: that passage at rest goes by unseen.
inline constexpr bool bounce_at_rest = true;
/// While the job makes the track dead in order it waits 3 s for a silent station before it opens the relay.
inline constexpr bool silent_on_the_way_out = true;
/// A rig that is lost while the tune comes to rest is called a fault of the program.
inline constexpr bool lost_while_resting = true;

}  // namespace lapwright::schedules::lenient
