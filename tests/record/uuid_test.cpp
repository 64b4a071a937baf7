#include "pipeline/record/uuid.h"

#include <gtest/gtest.h>

namespace papillote {
namespace {

// RFC 9562, appendix A.4: version 5 of www.example.com in the name space of domain names (its section 6.6).
TEST(Uuid, AgreesWithTheVectorOfTheRfc) {
  EXPECT_EQ(uuid_v5("6ba7b810-9dad-11d1-80b4-00c04fd430c8", "www.example.com"), "2ed6657d-e927-568b-95e1-2665a8aea6a2");
  EXPECT_EQ(uuid_v5("6BA7B810-9DAD-11D1-80B4-00C04FD430C8", "www.example.com"), "2ed6657d-e927-568b-95e1-2665a8aea6a2");
}

TEST(Uuid, AnotherNameGivesAnother) {
  EXPECT_NE(uuid_v5("6ba7b810-9dad-11d1-80b4-00c04fd430c8", "a"), uuid_v5("6ba7b810-9dad-11d1-80b4-00c04fd430c8", "b"));
}

}  // namespace
}  // namespace papillote
