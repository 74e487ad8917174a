// The Boost.Test runner of this folder.
#define BOOST_TEST_MODULE lapwright_faults
#include <boost/test/unit_test.hpp>
