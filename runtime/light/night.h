/* How much of what light does to the inner clock a frame has, relative to the same lamp's full
 * white: an estimate from the wavelength bins of data sheets (WS2812B, 2013 and 2023 editions,
 * middle of the bins; melanopic action spectrum of CIE S 026:2018). It says nothing about lux or
 * about sleep. */
#ifndef GLOAM_LIGHT_NIGHT_H
#define GLOAM_LIGHT_NIGHT_H

#include <stdint.h>

/* 0..1: mean over the pixels of the channels (held within 0..1) weighted 0.00055 red, 0.32857
 * green, 0.67088 blue. */
double night_melanopic(const float *light, uint32_t pixels);

#endif
