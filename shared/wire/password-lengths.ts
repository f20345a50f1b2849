/**
 * How long a password is: at least 15 characters, as NIST SP 800-63B-4 asks where a password stands alone and OWASP ASVS 5.0
 * 6.2.1 recommends; the most is ours, past any that a person types, so that hashing one has a bound.
 */
export const PASSWORD_LENGTHS = { least: 15, most: 256 } as const;
