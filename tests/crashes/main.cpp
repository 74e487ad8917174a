// The Boost.Test runner of this folder: power cuts, full disks and killed processes at any moment of a shift.
#define BOOST_TEST_MODULE crashes
#include <boost/test/unit_test.hpp>
