/* CIE 1976 lightness L* of relative luminance, and back (CIE 15, ISO/CIE 11664-4; constants
 * 216/24389 and 24389/27). For hands that set a level: equal steps of L* look equal. */
#ifndef GLOAM_LIGHT_LIGHTNESS_H
#define GLOAM_LIGHT_LIGHTNESS_H

/* 0..1 of full light -> 0..100; below 0 and NaN give 0, above 1 goes on. */
double lightness_of(double light);
/* 0..100 -> 0..1 of full light; below 0 and NaN give 0. */
double lightness_light(double lightness);
/* Relative luminance of linear sRGB light, weights of IEC 61966-2-1 as WCAG 2.2 rounds them. */
double lightness_luminance(const float light[3]);

#endif
