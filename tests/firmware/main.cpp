// The Boost.Test runner of this folder.
#define BOOST_TEST_MODULE lapwright_firmware
#include <boost/test/unit_test.hpp>
