/* SANITIZED: 1 in a build with the address sanitizer, which has allocation functions and limits of its own. */
#ifndef BASE_SANITIZED_H
#define BASE_SANITIZED_H
#if defined(__SANITIZE_ADDRESS__)
#define SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define SANITIZED 1
#endif
#endif
#ifndef SANITIZED
#define SANITIZED 0
#endif
#endif
