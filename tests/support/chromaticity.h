/* CIE 1931 of linear sRGB: the fractions of CSS Color 4 (conversions.js, commit 064b9815). */
#ifndef GLOAM_TESTS_CHROMATICITY_H
#define GLOAM_TESTS_CHROMATICITY_H

static inline void chromaticity_xyz(const double light[3], double xyz[3]) {
    static const double rows[3][3] = {
        {506752.0 / 1228815.0, 87881.0 / 245763.0, 12673.0 / 70218.0},
        {87098.0 / 409605.0, 175762.0 / 245763.0, 12673.0 / 175545.0},
        {7918.0 / 409605.0, 87881.0 / 737289.0, 1001167.0 / 1053270.0},
    };
    for (int i = 0; i < 3; i++)
        xyz[i] = rows[i][0] * light[0] + rows[i][1] * light[1] + rows[i][2] * light[2];
}

static inline void chromaticity_place(const double xyz[3], double *x, double *y) {
    *x = xyz[0] / (xyz[0] + xyz[1] + xyz[2]);
    *y = xyz[1] / (xyz[0] + xyz[1] + xyz[2]);
}

#endif
