// The Boost.Test runner of this folder.
#define BOOST_TEST_MODULE lapwright_firmware_job
#include <boost/test/unit_test.hpp>
